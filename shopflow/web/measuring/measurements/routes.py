"""Measurements: choosing what to measure, writing it down, correcting it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Operation, Visit
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.planning import page_queries
from shopflow.services.routing import operations
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.measurements.forms import MeasurementForm, StrikeForm
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("measurements", __name__)


@blueprint.get("/heads/<tag>/measurements")
def of_head(tag: str) -> ResponseReturnValue:
    """Every measurement of a head, step by step."""
    visit = page_queries.with_measurements(db(), tag)
    return render_template("measurements/of_head.html", visit=visit, job=visit.job)


@blueprint.get("/heads/<tag>/measure")
def choose(tag: str) -> ResponseReturnValue:
    """Choose the kind of measurement, the step's own first."""
    visit = jobs.visit(db(), tag)
    step = _step(visit)
    kinds = built_in_kinds.measurement_kinds(db())
    codes = step.kind.asks_for if step else ()
    return render_template(
        "measurements/choose.html",
        visit=visit,
        step=step,
        asked=[kind for kind in kinds if kind.code in codes],
        others=[kind for kind in kinds if kind.code not in codes],
    )


@blueprint.route("/heads/<tag>/measure/<int:kind_id>", methods=["GET", "POST"])
def record(tag: str, kind_id: int) -> ResponseReturnValue:
    """Record a measurement, and offer the next of its kind."""
    visit = jobs.visit(db(), tag)
    step = _step(visit)
    kind = measurements.get_kind(db(), kind_id)
    form = MeasurementForm.of(kind, visit.head.engine_type, request.args)
    if form.validate_on_submit():
        with faults_shown(form):
            row = measurements.record(db(), actor(), visit, kind_id, form.values, step)
            flash(
                gettext(
                    "Saved: {filter}, {row}.",
                    filter=", ".join(filter(None, (kind.name, row.where))),
                    row=row.value,
                )
            )
            following = form.for_the_next(visit.head.engine_type.cylinders)
            if step:
                following["operation"] = step.id
            return redirect(url_for("measurements.record", tag=tag, kind_id=kind_id, **following))
    measured = [row for row in visit.measurements if row.kind is kind and row.operation is step]
    return form_page(
        "measurements/record.html", form, visit=visit, step=step, kind=kind, taken=measured
    )


@blueprint.route("/measurements/<int:measurement_id>/correct", methods=["GET", "POST"])
def correct(measurement_id: int) -> ResponseReturnValue:
    """Correct a figure; the log keeps what it was."""
    row = measurements.get(db(), measurement_id)
    form = MeasurementForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            measurements.correct(db(), actor(), row, form.values)
            flash(gettext("{kind} is corrected.", kind=row.kind.name))
            return redirect(url_for("jobs.visit", tag=row.job_head.tag, _anchor="figures"))
    return form_page("measurements/correct.html", form, row=row)


@blueprint.route("/measurements/<int:measurement_id>/strike", methods=["GET", "POST"])
def strike(measurement_id: int) -> ResponseReturnValue:
    """Strike a measurement out, with the reason."""
    row = measurements.get(db(), measurement_id)
    form = StrikeForm()
    if form.validate_on_submit():
        with faults_shown(form):
            measurements.strike(db(), actor(), row, form.reason.data or "")
            flash_undoable(
                gettext(
                    "{kind} is struck out. It stays on record but does not count.",
                    kind=row.kind.name,
                ),
                "measurements.restore",
                measurement_id=row.id,
            )
            return redirect(url_for("jobs.visit", tag=row.job_head.tag, _anchor="figures"))
    return form_page("measurements/strike.html", form, row=row)


@blueprint.post("/measurements/<int:measurement_id>/restore")
def restore(measurement_id: int) -> ResponseReturnValue:
    """Let a measurement that was struck out count again."""
    row = measurements.get(db(), measurement_id)
    measurements.restore(db(), actor(), row)
    flash(gettext("{kind} is restored and counts again.", kind=row.kind.name))
    return redirect(url_for("jobs.visit", tag=row.job_head.tag, _anchor="figures"))


def _step(visit: Visit) -> Operation | None:
    """The operation the address names; none for a figure taken at inspection."""
    return operations.of_head(visit, request.args.get("operation", ""))
