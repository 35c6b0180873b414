"""Forecasts of power against what customers reported: the chart, and the spreadsheet's rows."""

from __future__ import annotations

from collections.abc import Sequence

from flask import url_for

from shopflow.charts import Axis, Chart, Series
from shopflow.services.engine.engine_results import Outcome
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si, pretty

WATTS = 1e3


def power_chart(outcomes: Sequence[Outcome], units: UnitSystem) -> Chart:
    """Each forecast as a bar from end to end, and the power reported as a point beside it."""
    unit = units.unit("engine power")
    numbers = [float(number) for number, _ in enumerate(outcomes, start=1)]
    ends = [
        (from_si(outcome.interval.low, unit), from_si(outcome.interval.high, unit))
        for outcome in outcomes
    ]
    return Chart(
        title=gettext("Power forecasts and results"),
        x=Axis(gettext("Result")),
        y=Axis(gettext("Power at the crankshaft"), pretty(unit)),
        series=[
            Series(
                name=gettext("Forecast, 19 times in 20"),
                x=numbers,
                y=[(low + high) / 2.0 for low, high in ends],
                error=[(high - low) / 2.0 for low, high in ends],
                as_received=True,
                joined=False,
            ),
            Series(
                name=gettext("Reported"),
                x=numbers,
                y=[from_si(outcome.power, unit) for outcome in outcomes],
                joined=False,
                links=[
                    url_for("through_cam.head", tag=outcome.forecast.job_head.tag)
                    for outcome in outcomes
                ],
            ),
        ],
        from_zero=True,
        places=0,
        x_places=0,
    )


def header() -> list[str]:
    """Columns of the spreadsheet."""
    return [
        gettext("day"),
        gettext("job"),
        gettext("head"),
        gettext("low, kW"),
        gettext("median, kW"),
        gettext("high, kW"),
        gettext("reported, kW"),
        gettext("inside"),
    ]


def rows(outcomes: list[Outcome]) -> list[list[Cell]]:
    """A row for each reported power that a forecast was saved before."""
    return [
        [
            outcome.result.day.isoformat(),
            outcome.result.job.number,
            outcome.forecast.job_head.tag,
            *(
                round(value / WATTS, 1)
                for value in (
                    outcome.interval.low,
                    outcome.interval.median,
                    outcome.interval.high,
                    outcome.power,
                )
            ),
            gettext("yes") if outcome.is_inside else gettext("no"),
        ]
        for outcome in outcomes
    ]
