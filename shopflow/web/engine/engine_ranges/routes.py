"""Ranges behind forecasts: the shop's by fuel and induction, and one job's own."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Fuel, Induction
from shopflow.services.engine import engine_results, ranges
from shopflow.services.engine.ranges import NAMES, RangeSet
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.engine.engine_ranges.forms import EngineRangesForm
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("engine_ranges", __name__)


@blueprint.get("/shop/engine-ranges")
def index() -> ResponseReturnValue:
    """The shop's ranges by fuel and induction, and how its forecasts did."""
    return render_template(
        "engine_ranges/index.html",
        sets=ranges.all_of_shop(db()),
        names=NAMES,
        record=engine_results.record_of(engine_results.outcomes(db())),
    )


@blueprint.route("/shop/engine-ranges/<fuel>/<induction>", methods=["GET", "POST"])
def of_shop(fuel: str, induction: str) -> ResponseReturnValue:
    """Change the shop's ranges of a fuel and an induction."""
    held = _of_shop(fuel, induction)
    form, back = EngineRangesForm.over(held), url_for("engine_ranges.index")
    if form.validate_on_submit():
        with faults_shown(form, held.row):
            ranges.save(db(), actor(), held, form.values)
            flash(gettext("The ranges are saved. New forecasts use them."))
            return redirect(back)
    return form_page("engine_ranges/form.html", form, held=held, job=None, back=back)


@blueprint.post("/shop/engine-ranges/<fuel>/<induction>/remove")
def remove_of_shop(fuel: str, induction: str) -> ResponseReturnValue:
    """Go back to the ranges that come with the program."""
    ranges.remove(db(), actor(), _of_shop(fuel, induction))
    flash(gettext("The shop’s ranges are removed. Forecasts use those of the program."))
    return redirect(url_for("engine_ranges.index"))


@blueprint.route("/jobs/<number>/engine-ranges", methods=["GET", "POST"])
def of_job(number: str) -> ResponseReturnValue:
    """Change the ranges of one job."""
    job = jobs.get(db(), number)
    held = ranges.of_job(db(), job, ranges.fuel_of(job) or Fuel.GASOLINE)
    form, back = EngineRangesForm.over(held), url_for("jobs.job", number=number)
    if form.validate_on_submit():
        own = held.row if held.row is not None and held.row.job_id is not None else None
        with faults_shown(form, own):
            ranges.save(db(), actor(), held, form.values, job)
            flash(gettext("The ranges of job {job} are saved.", job=number))
            return redirect(url_for("engine_ranges.of_job", number=number))
    return form_page("engine_ranges/form.html", form, held=held, job=job, back=back)


@blueprint.post("/jobs/<number>/engine-ranges/remove")
def remove_of_job(number: str) -> ResponseReturnValue:
    """Go back to the shop's ranges for a job."""
    job = jobs.get(db(), number)
    held = ranges.of_job(db(), job, ranges.fuel_of(job) or Fuel.GASOLINE)
    ranges.remove(db(), actor(), held, job)
    flash(gettext("Job {job} uses the shop’s ranges again.", job=number))
    return redirect(url_for("engine_ranges.of_job", number=number))


def _of_shop(fuel: str, induction: str) -> RangeSet:
    by_name = {member.name.lower(): member for member in Fuel}
    if fuel not in by_name or induction not in {*Induction}:
        abort(404)
    return ranges.of_shop(db(), by_name[fuel], Induction(induction))
