"""Forecasts against what came: the chart, and the rows for a spreadsheet."""

from __future__ import annotations

from collections.abc import Sequence
from math import expm1

from flask import url_for

from shopflow.calc.forecast import Forecast
from shopflow.charts import Axis, Chart, Series
from shopflow.services.forecasting.held_out import HeldOut
from shopflow.services.forecasting.kept_forecasts import Outcome, Record
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext, translated

PERCENT = 100.0


def outcomes_chart(record: Record) -> Chart:
    """Each forecast as a bar from limit to limit, and what came as a point beside it."""
    numbered = list(enumerate(record.outcomes, start=1))
    intervals = [outcome.interval for outcome in record.outcomes]
    came = [(number, outcome) for number, outcome in numbered if outcome.case is not None]
    return Chart(
        title=gettext("Forecasts and outcomes"),
        x=Axis(gettext("Forecast")),
        y=Axis(gettext("Gain in effective area"), "%"),
        series=[
            _forecast_bars([float(number) for number, _ in numbered], intervals),
            Series(
                name=gettext("Outcome"),
                x=[float(number) for number, _ in came],
                y=[_percent(outcome) for _, outcome in came],
                joined=False,
                links=[url_for("jobs.visit", tag=outcome.row.job_head.tag) for _, outcome in came],
            ),
        ],
        from_zero=True,
        x_places=0,
    )


def held_out_chart(rows: Sequence[HeldOut]) -> Chart:
    """Forecast of each past head from all the others, and what came."""
    numbers = [float(number) for number, _ in enumerate(rows, start=1)]
    return Chart(
        title=gettext("Past heads, each forecast from the others"),
        x=Axis(gettext("Past head")),
        y=Axis(gettext("Gain in effective area"), "%"),
        series=[
            _forecast_bars(numbers, [row.interval for row in rows]),
            Series(
                name=gettext("Outcome"),
                x=numbers,
                y=[PERCENT * expm1(row.case.log_gain) for row in rows],
                joined=False,
                links=[url_for("jobs.visit", tag=row.tag) for row in rows],
            ),
        ],
        from_zero=True,
        x_places=0,
    )


def _forecast_bars(numbers: Sequence[float], intervals: Sequence[Forecast]) -> Series:
    """A bar from limit to limit of each forecast."""
    return Series(
        name=gettext("Forecast, nine of ten"),
        x=list(numbers),
        y=[(one.low_percent + one.high_percent) / 2.0 for one in intervals],
        error=[(one.high_percent - one.low_percent) / 2.0 for one in intervals],
        as_received=True,
        joined=False,
    )


def header() -> list[str]:
    """Columns of the spreadsheet."""
    return [
        gettext("made"),
        gettext("head"),
        gettext("work"),
        gettext("side"),
        gettext("low, %"),
        gettext("median, %"),
        gettext("high, %"),
        gettext("past heads"),
        gettext("of this engine type"),
        gettext("outcome, %"),
        gettext("inside"),
    ]


def rows(record: Record) -> list[list[Cell]]:
    """A row for each forecast; the outcome is empty where there is none."""
    return [_row(outcome) for outcome in record.outcomes]


def _row(outcome: Outcome) -> list[Cell]:
    interval = outcome.interval
    limits = (interval.low_percent, interval.median_percent, interval.high_percent)
    return [
        outcome.row.made_at.date().isoformat(),
        outcome.row.job_head.tag,
        outcome.work.name if outcome.work else "",
        translated(outcome.row.side),
        *(round(limit, 2) for limit in limits),
        interval.cases,
        interval.same_group,
        None if outcome.case is None else round(_percent(outcome), 2),
        {None: "", True: gettext("yes"), False: gettext("no")}[outcome.is_inside],
    ]


def _percent(outcome: Outcome) -> float:
    """The outcome as a gain in percent."""
    return PERCENT * expm1(outcome.case.log_gain) if outcome.case else 0.0
