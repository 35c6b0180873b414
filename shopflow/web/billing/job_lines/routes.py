"""Lines of a job: everything charged on it by head, and adding, changing and removing lines."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Job, LineKind, TaxClass
from shopflow.services.billing import approvals, job_lines, packages, price_list, pricing, taxes
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.job_lines.forms import LineForm, kinds_offered
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("job_lines", __name__)


@blueprint.get("/jobs/<number>/lines")
def index(number: str) -> ResponseReturnValue:
    """Everything that is charged on a job, head by head, with the tax."""
    job = jobs.get(db(), number)
    charges = pricing.charges(pricing.charged(job))
    return render_template(
        "job_lines/index.html",
        job=job,
        groups=pricing.by_head(job, charges),
        charges=charges,
        tax=pricing.tax_of(db(), job, charges),
        extras=approvals.extras(db(), job, [charge.row for charge in charges]),
        declined=approvals.declined(job),
        outdated=taxes.outdated(job.customer, today()),
    )


@blueprint.route("/jobs/<number>/lines/new", methods=["GET", "POST"])
def add(number: str) -> ResponseReturnValue:
    """Add a line of a kind to a job, or to the head whose tag is asked for."""
    job = jobs.get(db(), number)
    kinds = kinds_offered()
    kind = _kind(kinds)
    form = LineForm.of(job, get_shop(db()), kind)
    form.offer(price_list.of_parts(db()) if kind is LineKind.PART else [])
    if request.method == "GET" and "head" in form:
        form.head.data = request.args.get("head", "")
    if form.validate_on_submit():
        with faults_shown(form):
            values = form.line_values | _listed(form)
            line = job_lines.add(db(), actor(), job, kind, values)
            flash(gettext("Line added: {line}.", line=line.description))
            return _to_lines(job)
    return form_page("job_lines/add.html", form, job=job, kind=kind, kinds=kinds)


def _listed(form: LineForm) -> dict[str, Any]:
    """The fields that a part chosen from the price list fills in, where they were left blank."""
    if "entry" not in form or not form.entry.data:
        return {}
    entry = price_list.as_line(price_list.get(db(), int(form.entry.data)))
    typed = form.line_values
    if typed.get("tax_class") == TaxClass.STANDARD:
        typed.pop("tax_class")
    return {name: value for name, value in entry.items() if not typed.get(name)}


def _kind(kinds: dict[LineKind, str]) -> LineKind:
    """The kind of line asked for, where it is on offer; else the first."""
    wanted = request.form.get("kind") or request.args.get("kind", "")
    return next((kind for kind in kinds if kind == wanted), next(iter(kinds)))


@blueprint.route("/lines/<int:line_id>/change", methods=["GET", "POST"])
def change(line_id: int) -> ResponseReturnValue:
    """Change a line."""
    line = job_lines.get(db(), line_id)
    form = LineForm.of(line.job, get_shop(db()), line.kind, line)
    form.offer([])
    if form.validate_on_submit():
        with faults_shown(form, line):
            job_lines.change(db(), actor(), line, form.line_values)
            flash(gettext("Line saved: {line}.", line=line.description))
            return _to_lines(line.job)
    return form_page("job_lines/change.html", form, line=line, job=line.job)


@blueprint.post("/lines/<int:line_id>/remove")
def remove(line_id: int) -> ResponseReturnValue:
    """Take a line off its job."""
    line = job_lines.get(db(), line_id)
    if line.kind is LineKind.PACKAGE:
        packages.remove(db(), actor(), line)
    else:
        job_lines.remove(db(), actor(), line)
    flash(gettext("Line removed: {line}.", line=line.description))
    return _to_lines(line.job)


def _to_lines(job: Job) -> ResponseReturnValue:
    return redirect(url_for("job_lines.index", number=job.number))
