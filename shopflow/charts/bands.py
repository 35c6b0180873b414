"""Bands of many curves, and shaded areas: grey, so that no curve's colour is spent on what lies
behind the curves."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from shopflow.charts.chart import Band, Shade
from shopflow.charts.marks import Area, Mark, Point, Stroke

FILL = "#d5dde6"
EDGE = "#7a8694"
SHADES = ("#aebccb", "#e2e7ed")
"""Of shaded areas in turn; they lie apart, and each has its name."""


def marks(band: Band, at: Callable[[float, float], Point], size: float) -> Iterator[Mark]:
    """The area, the line in its middle, thin lines at the extremes; `size` is that of letters."""

    def line(values: Sequence[float]) -> tuple[Point, ...]:
        return tuple(at(x, y) for x, y in zip(band.x, values, strict=True))

    yield Area((*line(band.high), *reversed(line(band.low))), FILL)
    yield from _lines(line(band.least), line(band.middle), line(band.greatest), size)


def sample(left: float, right: float, height: float, size: float) -> Iterator[Mark]:
    """A piece of a band about this height, to stand before its name."""
    high, low, edge = height - 0.35 * size, height + 0.35 * size, 0.2 * size
    yield Area(((left, high), (right, high), (right, low), (left, low)), FILL)
    least, middle, greatest = (((left, y), (right, y)) for y in (low + edge, height, high - edge))
    yield from _lines(least, middle, greatest, size)


def shaded(shade: Shade, index: int, at: Callable[[float, float], Point]) -> Area:
    """The area between a curve and zero."""
    line = [at(x, y) for x, y in zip(shade.x, shade.y, strict=True)]
    return Area((at(shade.x[0], 0.0), *line, at(shade.x[-1], 0.0)), SHADES[index % len(SHADES)])


def shade_sample(index: int, left: float, right: float, height: float, size: float) -> Area:
    """A piece of a shaded area about this height, to stand before its name."""
    high, low = height - 0.35 * size, height + 0.35 * size
    corners = ((left, high), (right, high), (right, low), (left, low))
    return Area(corners, SHADES[index % len(SHADES)])


def _lines(
    least: tuple[Point, ...], middle: tuple[Point, ...], greatest: tuple[Point, ...], size: float
) -> Iterator[Stroke]:
    for points in (least, greatest):
        yield Stroke(points, EDGE, 0.07 * size, part="extreme")
    yield Stroke(middle, EDGE, 0.14 * size, (0.15 * size, 0.25 * size), part="extreme")
