"""Chart of a forecast: the cases as points with their uncertainty, the interval as a band."""

from __future__ import annotations

from math import exp, expm1

from flask import url_for

from shopflow.charts import Axis, Band, Chart, Series
from shopflow.models import GainCase
from shopflow.services.forecasting.forecasts import InFull
from shopflow.texts import gettext


def cases_chart(full: InFull) -> Chart:
    """Gain of each case in percent, in order; those of the type in question apart."""
    numbered = list(enumerate(full.cases, start=1))
    groups = {True: gettext("This engine type"), False: gettext("Other engine types")}
    series = [
        _series(name, [row for row in numbered if _is_own(full, row[1]) is is_own], not is_own)
        for is_own, name in groups.items()
    ]
    return Chart(
        title=gettext("Past heads and the forecast"),
        x=Axis(gettext("Past head")),
        y=Axis(gettext("Gain in effective area"), "%"),
        series=[one for one in series if one.x],
        from_zero=True,
        x_places=0,
        x_from_zero=False,
        bands=_band(full),
    )


def _is_own(full: InFull, case: GainCase) -> bool:
    return case.job_head.head.engine_type_id == full.engine_type.id


def _series(name: str, numbered: list[tuple[int, GainCase]], is_other: bool) -> Series:
    return Series(
        name=name,
        x=[float(number) for number, _ in numbered],
        y=[100.0 * expm1(case.log_gain) for _, case in numbered],
        error=[100.0 * exp(case.log_gain) * case.expanded_uncertainty for _, case in numbered],
        as_received=is_other,
        joined=False,
        links=[url_for("jobs.visit", tag=case.job_head.tag) for _, case in numbered],
    )


def _band(full: InFull) -> list[Band]:
    interval = full.interval
    if interval is None:
        return []
    ends = (0.5, len(full.cases) + 0.5)
    low, median, high = (
        [limit, limit]
        for limit in (interval.low_percent, interval.median_percent, interval.high_percent)
    )
    name = gettext("Nine of ten, and the middle")
    return [Band(name, ends, low, median, high, low, high)]
