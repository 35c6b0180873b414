"""A small drawing of how one kind of measurement went from visit to visit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from shopflow.charts.look import GRID
from shopflow.charts.marks import Drawing, Mark, Sign, Stroke

LINE, LIMIT = "#0072b2", "#d55e00"
MARGIN = 6.0


@dataclass(frozen=True)
class Trend:
    """The least and greatest value of each visit in turn, and the limits nearest to them."""

    title: str
    description: str
    ranges: Sequence[tuple[float, float]]
    lower: float | None = None
    upper: float | None = None


def layout_trend(trend: Trend, width: float = 132.0, height: float = 44.0) -> Drawing:
    """Lay a trend out: a bar from least to greatest each visit, a line through their middles.

    A limit is a dashed line. All values alike lie in the middle.
    """
    values = [value for pair in trend.ranges for value in pair]
    bounds = [bound for bound in (trend.lower, trend.upper) if bound is not None]
    low, high = min([*values, *bounds]), max([*values, *bounds])
    spread = high - low

    def y_of(value: float) -> float:
        share = 0.5 if spread == 0 else (value - low) / spread
        return height - MARGIN - share * (height - 2 * MARGIN)

    marks: list[Mark] = []
    for bound in bounds:
        line = ((0.0, y_of(bound)), (width, y_of(bound)))
        marks.append(Stroke(line, LIMIT, 1.2, (4.0, 3.0), part="level"))
    marks += _visits(trend.ranges, width, y_of)
    return Drawing(width, height, trend.title, trend.description, tuple(marks))


def _visits(
    ranges: Sequence[tuple[float, float]], width: float, y_of: Callable[[float], float]
) -> Iterator[Mark]:
    step = (width - 2 * MARGIN) / max(len(ranges) - 1, 1)
    places = [MARGIN + index * step for index in range(len(ranges))]
    middles = tuple(
        (x, y_of((low + high) / 2)) for x, (low, high) in zip(places, ranges, strict=True)
    )
    for x, (low, high) in zip(places, ranges, strict=True):
        if low != high:
            yield Stroke(((x, y_of(low)), (x, y_of(high))), GRID, 3.0, part="bar")
    if len(middles) > 1:
        yield Stroke(middles, LINE, 1.6)
    for at in middles:
        yield Sign(at, "circle", LINE, True, 2.6)
