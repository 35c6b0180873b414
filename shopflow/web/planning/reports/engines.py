"""Forecasts of power against what customers reported: the rows for a spreadsheet."""

from __future__ import annotations

from shopflow.services.engine.engine_results import Outcome
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext

WATTS = 1e3


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
