"""Results of a job's engine: listed beside the forecasts, added, changed and discarded."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.papers.engine_view import against_forecast
from shopflow.services.engine import engine_results
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system, today
from shopflow.web.db import db
from shopflow.web.engine.engine_results.forms import EngineResultForm
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("engine_results", __name__)


@blueprint.get("/jobs/<number>/engine-results")
def of_job(number: str) -> ResponseReturnValue:
    """Results that the customer reported of a job's engine."""
    job = jobs.get(db(), number)
    rows = engine_results.reported(db(), job)
    against = {row.key: against_forecast(row, system()) for row in rows}
    return render_template("engine_results/of_job.html", job=job, rows=rows, against=against)


@blueprint.route("/jobs/<number>/engine-results/new", methods=["GET", "POST"])
def create(number: str) -> ResponseReturnValue:
    """Add a result."""
    job = jobs.get(db(), number)
    form = EngineResultForm.new(today(), job.fuel)
    if form.validate_on_submit():
        with faults_shown(form):
            engine_results.add(db(), actor(), job, form.values)
            flash(gettext("The result is saved."))
            return redirect(url_for("engine_results.of_job", number=number))
    return form_page("engine_results/form.html", form, job=job, row=None)


@blueprint.route("/engine-results/<int:engine_result_id>/change", methods=["GET", "POST"])
def change(engine_result_id: int) -> ResponseReturnValue:
    """Change a result."""
    row = engine_results.get(db(), engine_result_id)
    form = EngineResultForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            engine_results.change(db(), actor(), row, form.values)
            flash(gettext("The result is saved."))
            return redirect(url_for("engine_results.of_job", number=row.job.number))
    return form_page("engine_results/form.html", form, job=row.job, row=row)


@blueprint.post("/engine-results/<int:engine_result_id>/discard")
def discard(engine_result_id: int) -> ResponseReturnValue:
    """Discard a result that was entered by mistake."""
    row = engine_results.get(db(), engine_result_id)
    number = row.job.number
    engine_results.discard(db(), actor(), row)
    flash(gettext("The result is discarded."))
    return redirect(url_for("engine_results.of_job", number=number))
