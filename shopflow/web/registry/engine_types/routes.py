"""Engine types: finding one, its page with every past job of it, adding and changing."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.calc.workings.working import Working
from shopflow.errors import NotFoundError
from shopflow.models import EngineType
from shopflow.services.analysis.past_workings import of_band, of_result
from shopflow.services.bench import bands, past_tests
from shopflow.services.bench.past_tests import Result
from shopflow.services.forecasting import forecasts
from shopflow.services.registry import engine_types
from shopflow.services.search import past_jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.engine_types.export import header, rows
from shopflow.web.registry.engine_types.filters import FilterForm
from shopflow.web.registry.engine_types.forms import EngineTypeForm
from shopflow.web.registry.engine_types.results import past_results
from shopflow.web.spreadsheet import csv_answer

blueprint = Blueprint("engine_types", __name__, url_prefix="/engines")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every engine type, or those meant by what is typed, best first."""
    text = request.args.get("q", "").strip()
    rows = engine_types.look_up(db(), text) if text else engine_types.list_all(db())
    return render_template("engine_types/index.html", engine_types=rows, text=text)


@blueprint.get("/<int:engine_type_id>")
def engine(engine_type_id: int) -> ResponseReturnValue:
    """One engine type: its past results, its best, and every past job of it and its kin."""
    row = engine_types.get(db(), engine_type_id)
    kin = engine_types.relatives(db(), row)
    form, tests = _filtered([row, *kin])
    return form_page(
        "engine_types/engine.html",
        form,
        engine_type=row,
        kin=kin,
        past_jobs=past_jobs.of_engine_types(db(), [row, *kin]),
        results=past_results(tests, form.side.data, form.stage.data, form.over.data),
        most=past_tests.MOST,
        forecasts=forecasts.of_engine_type(db(), row),
        asked=form.asked_for,
    )


@blueprint.get("/<int:engine_type_id>/results.csv")
def export(engine_type_id: int) -> ResponseReturnValue:
    """Export the past results selected, as rows for a spreadsheet."""
    row = engine_types.get(db(), engine_type_id)
    form, tests = _filtered([row, *engine_types.relatives(db(), row)])
    if form.errors:
        abort(400)
    return csv_answer(f"results-{row.id}", header(), rows(bands.ranking(tests)))


@blueprint.get("/<int:engine_type_id>/results/<int:session_id>")
def result(engine_type_id: int, session_id: int) -> ResponseReturnValue:
    """Show the calculation of one test's results among the past results selected."""
    row = engine_types.get(db(), engine_type_id)
    form, tests = _filtered([row, *engine_types.relatives(db(), row)])
    ranking = bands.ranking(tests)
    for ranked in ranking.ranked:
        if ranked.result.session_id == session_id:
            title = f"{ranked.result.tag}, {ranked.result.stage}"
            return _worked(row, form, title, of_result(ranked, ranking, system()), session_id)
    raise NotFoundError(gettext("this test is not among these past results"))


@blueprint.get("/<int:engine_type_id>/band/<int:place>")
def in_band(engine_type_id: int, place: int) -> ResponseReturnValue:
    """Show the calculation of the band at one of its points, from 1."""
    row = engine_types.get(db(), engine_type_id)
    form, tests = _filtered([row, *engine_types.relatives(db(), row)])
    if form.errors:
        raise NotFoundError(gettext("the filters cannot be read: choose them again"))
    band = bands.band_of(tests, form.side.data, form.stage.data, form.over.data)
    if not 1 <= place <= len(band.points):
        raise NotFoundError(gettext("this place is outside the results: choose another"))
    point = band.points[place - 1]
    over = system().text(point.x, "lift") if band.over == "lift" else f"L/D {point.x:.2f}"
    return _worked(
        row,
        form,
        gettext("Past results at {over}", over=over),
        of_band(tests, band, point, system()),
    )


def _worked(
    row: EngineType,
    form: FilterForm,
    title: str,
    workings: list[Working],
    session_id: int | None = None,
) -> ResponseReturnValue:
    return render_template(
        "engine_types/working.html",
        engine_type=row,
        asked=form.asked_for,
        title=title,
        workings=workings,
        session_id=session_id,
    )


def _filtered(types: list[EngineType]) -> tuple[FilterForm, list[Result]]:
    """The filters as the address has them, and the results that match; none with an error."""
    form = FilterForm.from_query(past_tests.stages(db(), types))
    tests: list[Result] = []
    if form.validate():
        with faults_shown(form):
            wanted = past_tests.wanted_from(form.narrowing)
            chosen = types[:1] if form.kin.data else types
            tests = past_tests.of_engine_types(db(), chosen, wanted)
    return form, tests


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Add an engine type."""
    form = EngineTypeForm()
    if form.validate_on_submit():
        with faults_shown(form):
            row = engine_types.create(db(), actor(), form.values)
            flash(gettext("{row} was added.", row=row.title))
            return redirect(url_for("engine_types.engine", engine_type_id=row.id))
    return form_page("engine_types/form.html", form, engine_type=None)


@blueprint.route("/<int:engine_type_id>/change", methods=["GET", "POST"])
def change(engine_type_id: int) -> ResponseReturnValue:
    """Change an engine type."""
    row = engine_types.get(db(), engine_type_id)
    form = EngineTypeForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            engine_types.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.title))
            return redirect(url_for("engine_types.engine", engine_type_id=row.id))
    return form_page("engine_types/form.html", form, engine_type=row)
