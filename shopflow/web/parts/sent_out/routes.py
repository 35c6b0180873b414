"""Work at vendors: all that is out, sending it, and bringing it back."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Job
from shopflow.services.billing import job_lines
from shopflow.services.parts import sent_out, suppliers
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.parts import must_be_used
from shopflow.web.parts.sent_out.forms import BackForm, SendOutForm

blueprint = Blueprint("sent_out", __name__)
blueprint.before_request(must_be_used)


@blueprint.get("/sent-out")
def index() -> ResponseReturnValue:
    """All work that is at a vendor, what is due first."""
    return render_template("sent_out/index.html", rows=sent_out.still_out(db()), today=today())


@blueprint.route("/lines/<int:line_id>/send-out", methods=["GET", "POST"])
def send(line_id: int) -> ResponseReturnValue:
    """Send the work of a line to a vendor."""
    line = job_lines.get(db(), line_id)
    form = SendOutForm.offering(suppliers.list_all(db(), active=True), sent_on=today())
    if form.validate_on_submit():
        with faults_shown(form):
            row = sent_out.send(db(), actor(), line, form.values)
            flash(
                gettext("Sent to {vendor}: {work}.", vendor=row.supplier.name,
                        work=line.description)
            )  # fmt: skip
            return _to_parts(line.job)
    return form_page("sent_out/send.html", form, line=line, job=line.job)


@blueprint.route("/sent-out/<int:work_id>/back", methods=["GET", "POST"])
def bring_back(work_id: int) -> ResponseReturnValue:
    """Say that work is back, and what it cost."""
    row = sent_out.get(db(), work_id)
    form = BackForm(data={"back_on": today(), "cost": row.cost})
    if form.validate_on_submit():
        with faults_shown(form):
            sent_out.bring_back(db(), actor(), row, form.values)
            flash(gettext("Back: {work}.", work=row.line.description))
            return _to_parts(row.line.job)
    return form_page("sent_out/back.html", form, work=row, job=row.line.job)


def _to_parts(job: Job) -> ResponseReturnValue:
    return redirect(url_for("part_needs.index", number=job.number))
