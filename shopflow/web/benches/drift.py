"""The control chart of a range's checks."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from shopflow.calc.control import ControlChart
from shopflow.charts import Axis, Chart, Series
from shopflow.models import BenchRange
from shopflow.services import benches
from shopflow.web.drawing import drawn


@dataclass(frozen=True)
class DriftChart:
    """The drawing, and the limits in it."""

    drawing: Markup
    limits: ControlChart


def drift_chart(bench_range: BenchRange) -> DriftChart | None:
    """A range's checks in order, between limits from the checks themselves; None for too few."""
    limits = benches.drift(bench_range)
    if limits is None:
        return None
    numbers = [float(place) for place in range(1, len(bench_range.checks) + 1)]
    ends = [numbers[0], numbers[-1]]
    chart = Chart(
        title=f"Checks of range {bench_range.name}",
        x=Axis("Check"),
        y=Axis("Corrected flow over the plate's"),
        series=[
            Series("checks", numbers, [row.ratio for row in bench_range.checks]),
            Series("upper limit", ends, [limits.upper] * 2, as_received=True),
            Series("lower limit", ends, [limits.lower] * 2, as_received=True),
        ],
        places=4,
        x_places=0,
        from_zero=False,
    )
    made = drawn(chart, f"drift-{bench_range.id}", height=260.0)
    return DriftChart(made.drawing, limits)
