"""The frame of a chart: where the plot lies in the drawing, and the values at its edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.charts.marks import Point


@dataclass(frozen=True)
class Frame:
    """Position of the plot in the drawing, the values at its edges, and the size of letters."""

    left: float
    top: float
    right: float
    bottom: float
    x_ticks: Sequence[float]
    y_ticks: Sequence[float]
    type: float
    sign: float
    """Size of a point's mark: less where there are many."""

    def at(self, x: float, y: float) -> Point:
        """Place of a point of the chart."""
        return _between(x, self.x_ticks, self.left, self.right), _between(
            y, self.y_ticks, self.bottom, self.top
        )


def _between(value: float, marks: Sequence[float], low: float, high: float) -> float:
    return low + (value - marks[0]) / (marks[-1] - marks[0]) * (high - low)
