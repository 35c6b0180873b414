"""Parts of a job: what each head needs, where it is, and fitting it with one tap."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import PartNeed
from shopflow.services.billing import job_lines
from shopflow.services.jobs import jobs
from shopflow.services.parts import catalog, needs, part_holds, sent_out
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.parts import must_be_used
from shopflow.web.parts.part_needs.forms import NeedForm
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("part_needs", __name__)
blueprint.before_request(must_be_used)


@blueprint.get("/jobs/<number>/parts")
def index(number: str) -> ResponseReturnValue:
    """The parts of a job, head by head, and its work at vendors."""
    job = jobs.get(db(), number)
    sent = sent_out.of_job(db(), job)
    return render_template(
        "part_needs/index.html",
        job=job,
        needs=needs.of_job(db(), job),
        typed=needs.not_followed(job),
        sent=sent,
        to_send=sent_out.to_send(job, sent),
    )


@blueprint.route("/jobs/<number>/parts/new", methods=["GET", "POST"])
def add(number: str) -> ResponseReturnValue:
    """Add a part that a job needs, for the head whose tag is asked for."""
    job = jobs.get(db(), number)
    form = NeedForm.of(job, catalog.offered(db()), request.args.get("head", ""))
    if form.validate_on_submit():
        with faults_shown(form):
            row = needs.add(db(), actor(), job, form.need_values)
            flash(gettext("Part added: {part}.", part=row.line.description))
            return _back(row)
    return form_page("part_needs/add.html", form, job=job)


@blueprint.post("/lines/<int:line_id>/follow")
def follow(line_id: int) -> ResponseReturnValue:
    """Follow a line that was typed by hand, by its part number."""
    row = needs.follow(db(), actor(), job_lines.get(db(), line_id))
    flash(gettext("Followed: {quantity} {part}.", **_named(row)))
    return redirect(url_for("part_needs.index", number=row.line.job.number))


@blueprint.post("/part-needs/<int:need_id>/fit")
def fit(need_id: int) -> ResponseReturnValue:
    """Fit all that is left of a part."""
    row = needs.get(db(), need_id)
    needs.fit(db(), actor(), row)
    message = gettext("Fitted: {quantity} {part}.", **_named(row))
    flash_undoable(message, "part_needs.put_back", need_id=row.id)
    return _back(row)


@blueprint.post("/part-needs/<int:need_id>/put-back")
def put_back(need_id: int) -> ResponseReturnValue:
    """Put back what was fitted of a part."""
    row = needs.get(db(), need_id)
    needs.put_back(db(), actor(), row)
    flash(gettext("Put back: {quantity} {part}.", **_named(row)))
    return _back(row)


@blueprint.post("/part-needs/<int:need_id>/here")
def own_is_here(need_id: int) -> ResponseReturnValue:
    """Say that a part the customer brings is here."""
    row = needs.get(db(), need_id)
    needs.own_is_here(db(), actor(), row)
    flash(gettext("Received: {quantity} {part}.", **_named(row)))
    return _back(row)


@blueprint.post("/heads/<tag>/wait-for-parts")
def wait(tag: str) -> ResponseReturnValue:
    """Put a head on hold until its parts are here; the hold then ends by itself."""
    visit = jobs.visit(db(), tag)
    part_holds.begin(db(), actor(), visit, needs.of_job(db(), visit.job))
    flash(gettext("{tag} is on hold until its parts are here.", tag=tag))
    return redirect(url_for("jobs.visit", tag=tag))


def _named(row: PartNeed) -> dict[str, object]:
    return {"quantity": row.line.quantity, "part": row.line.description}


def _back(row: PartNeed) -> ResponseReturnValue:
    """The page of the part's head, or of all parts of the job."""
    if row.line.tag:
        return redirect(url_for("jobs.visit", tag=row.line.tag, _anchor="parts"))
    return redirect(url_for("part_needs.index", number=row.line.job.number))
