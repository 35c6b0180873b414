"""Times: taking a step up, pausing it, putting a stretch of time right."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.routing import operations, time_tracking
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.time_tracking.forms import StretchForm
from shopflow.web.routing.time_tracking.words import in_hand

blueprint = Blueprint("time_tracking", __name__)


@blueprint.post("/steps/<int:operation_id>/take-up")
def take_up(operation_id: int) -> ResponseReturnValue:
    """Go on with a step in hand, alone or beside someone."""
    row = operations.get(db(), operation_id)
    before = time_tracking.of_person(db(), actor())
    operations.take_up(db(), actor(), row)
    flash(in_hand(row, before))
    return redirect(url_for("jobs.visit", tag=row.job_head.tag))


@blueprint.post("/steps/<int:operation_id>/pause")
def pause(operation_id: int) -> ResponseReturnValue:
    """Stop one's time on a step."""
    row = operations.get(db(), operation_id)
    operations.pause(db(), actor(), row)
    flash(gettext("Your time stopped: {kind}.", kind=row.kind.name))
    return redirect(url_for("jobs.visit", tag=row.job_head.tag))


@blueprint.get("/steps/<int:operation_id>/times")
def of_operation(operation_id: int) -> ResponseReturnValue:
    """Show the time that each user spent on a step."""
    row = operations.get(db(), operation_id)
    now = actor().at
    overnight = time_tracking.left_open(db(), row.running, now)
    total = time_tracking.minutes(row, now)
    return render_template(
        "time_tracking/of_operation.html", step=row, now=now, overnight=overnight, total=total
    )


@blueprint.route("/times/<int:stretch_id>/correct", methods=["GET", "POST"])
def correct(stretch_id: int) -> ResponseReturnValue:
    """Put a stretch of time right, as one left running overnight."""
    row = time_tracking.get(db(), stretch_id)
    form = StretchForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            time_tracking.correct(db(), actor(), row, form.values)
            flash(
                gettext(
                    "Time of {person} corrected: {kind}.",
                    person=row.person.name,
                    kind=row.operation.kind.name,
                )
            )
            return redirect(url_for("time_tracking.of_operation", operation_id=row.operation_id))
    return form_page("time_tracking/correct.html", form, row=row, step=row.operation)
