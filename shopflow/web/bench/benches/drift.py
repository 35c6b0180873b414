"""The control charts of a range's checks, one a plate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from math import floor, isfinite

from markupsafe import Markup

from shopflow.calc.control import ControlChart
from shopflow.charts import Axis, Chart, Series
from shopflow.models import BenchRange
from shopflow.services.bench import bench_checks
from shopflow.services.bench.bench_checks import Drift
from shopflow.texts import gettext
from shopflow.web.context import local_zone
from shopflow.web.drawing import draw
from shopflow.web.filters import day


@dataclass(frozen=True)
class DriftChart:
    """A plate's checks since its calibration, and their drawing where limits are known."""

    drift: Drift
    drawing: Markup | None


def drift_charts(bench_range: BenchRange) -> list[DriftChart]:
    """Every plate's chart."""
    return [
        DriftChart(drift, _drawing(bench_range, index, drift))
        for index, drift in enumerate(bench_checks.drifts(bench_range))
    ]


def _drawing(bench_range: BenchRange, index: int, drift: Drift) -> Markup | None:
    if drift.chart is None:
        return None
    chart = Chart(
        title=gettext(
            "Checks of range {bench_range} on {plate}",
            bench_range=bench_range.name,
            plate=drift.plate,
        ),
        x=Axis(gettext("Date of the check")),
        y=Axis(gettext("Corrected flow over the plate's")),
        series=list(_series(drift, drift.chart)),
        places=4,
        x_places=0,
        x_words=_date,
        from_zero=False,
        x_from_zero=False,
    )
    return draw(chart, f"drift-{bench_range.id}-{index}").drawing


def _series(drift: Drift, chart: ControlChart) -> Iterator[Series]:
    """The checks, the outliers among them, and their limits."""
    days = [_days(row.at) for row in drift.checks]
    ratios = [row.ratio for row in drift.checks]
    yield Series(gettext("checks"), days, ratios)
    for name, indexes in (
        (gettext("outside its limits"), chart.outside),
        (gettext("in a run"), chart.runs),
    ):
        if indexes:
            marked = [days[at] for at in indexes]
            yield Series(name, marked, [ratios[at] for at in indexes], joined=False)
    # At least a day, so that checks of one day have an axis.
    ends = [floor(days[0]), max(days[-1], floor(days[0]) + 1.0)]
    yield Series(gettext("baseline's mean"), ends, [chart.centre] * 2, as_received=True)
    # Checks before the limits began were held to none.
    limited = [at for at, limits in enumerate(chart.limits) if isfinite(limits[0])]
    for name, side in ((gettext("upper limit"), 1), (gettext("lower limit"), 0)):
        limits = [chart.limits[at][side] for at in limited]
        yield Series(name, [days[at] for at in limited], limits, as_received=True)
    if drift.calibration is not None:
        stated = drift.calibration.expanded_uncertainty.si
        for name, edge in (
            (gettext("calibration + U"), 1.0 + stated),
            (gettext("calibration − U"), 1.0 - stated),
        ):
            yield Series(name, ends, [edge] * 2, as_received=True)


def _days(moment: datetime) -> float:
    """A moment along the axis, in days."""
    local = moment.astimezone(local_zone())
    return local.toordinal() + (local.hour + local.minute / 60 + local.second / 3600) / 24


def _date(ordinal: float) -> str:
    return day(date.fromordinal(int(ordinal)))
