"""Decisions: how to go on from a figure outside its limits."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import limit_checks
from shopflow.services.routing import decisions, operations
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.decisions.forms import DecisionForm

blueprint = Blueprint("decisions", __name__)


@blueprint.route("/steps/<int:operation_id>/decide", methods=["GET", "POST"])
def decide(operation_id: int) -> ResponseReturnValue:
    """Decide on the figures of a step that stop the head's routing."""
    row = operations.get(db(), operation_id)
    form = DecisionForm()
    figures = limit_checks.undecided(row)
    if form.validate_on_submit():
        with faults_shown(form):
            decisions.decide(db(), actor(), row, form.choice.data, form.reason.data)
            flash(f"{row.kind.name}: {form.choice.data}.")
            return redirect(url_for("jobs.visit", tag=row.job_head.tag))
    return form_page("decisions/decide.html", form, step=row, figures=figures)
