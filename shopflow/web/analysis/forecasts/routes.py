"""A forecast with every case it is from."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from shopflow.calc.forecast import FEWEST_CASES
from shopflow.calc.worth import WHOLE
from shopflow.services.forecasting import forecasts
from shopflow.services.jobs import jobs
from shopflow.services.registry import engine_types
from shopflow.texts import lazy
from shopflow.web.analysis.forecasts.charts import cases_chart
from shopflow.web.db import db
from shopflow.web.drawing import draw

blueprint = Blueprint("forecasts", __name__)

PARTS = {
    WHOLE: lazy("All lifts"),
    "low": lazy("Low lift"),
    "mid": lazy("Mid lift"),
    "high": lazy("High lift"),
}


@blueprint.get("/engines/<int:engine_type_id>/forecasts/<steps>/<side>")
def forecast(engine_type_id: int, steps: str, side: str) -> ResponseReturnValue:
    """Show what the past tests forecast of these steps for a head of a type, or for one head."""
    tag = request.args.get("head", "")
    visit = jobs.visit(db(), tag) if tag else None
    full = forecasts.in_full(
        db(),
        steps,
        side,
        request.args.get("part", WHOLE),
        engine_types.get(db(), engine_type_id),
        visit.head_id if visit else None,
    )
    return render_template(
        "forecasts/forecast.html",
        full=full,
        visit=visit,
        parts=PARTS,
        fewest=FEWEST_CASES,
        chart=draw(cases_chart(full), "cases") if full.cases else None,
    )
