"""From a chart to a drawing: axes, curves, marks, and each curve's name at its end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from shopflow import fonts
from shopflow.charts.chart import Chart, Series
from shopflow.charts.marks import Drawing, Mark, Point, Sign, Stroke, Words
from shopflow.charts.ticks import label, ticks

PALETTE = (
    "#0072b2",
    "#d55e00",
    "#009e73",
    "#cc79a7",
    "#56b4e9",
    "#000000",
    "#e69f00",
    "#7a7a00",
)
"""After Okabe and Ito (2008), told apart by any eyes; yellow darkened for white."""

SHAPES: tuple[Literal["circle", "square", "triangle", "diamond"], ...] = (
    "circle",
    "square",
    "triangle",
    "diamond",
)
INK = "#1c2430"
SOFT = "#5a6472"
GRID = "#dde2e8"
SIZE = 9.0
SMALL = 8.0
LINE = 11.0
"""Least distance between the base lines of two names."""

NAMES = 0.3
"""Most of a sheet's width that the curves' names may take."""

KEY = 18.0
"""From the plot's edge to a name: room for its leader and mark."""


@dataclass(frozen=True)
class _Frame:
    """Where the plot lies in the drawing, and what its edges mean."""

    left: float
    top: float
    right: float
    bottom: float
    most: float
    """Width a curve's name may take."""

    x_ticks: Sequence[float]
    y_ticks: Sequence[float]

    def x(self, value: float) -> float:
        """Place of a value along the bottom."""
        low, high = self.x_ticks[0], self.x_ticks[-1]
        return self.left + (value - low) / (high - low) * (self.right - self.left)

    def y(self, value: float) -> float:
        """Place of a value up the side."""
        low, high = self.y_ticks[0], self.y_ticks[-1]
        return self.bottom - (value - low) / (high - low) * (self.bottom - self.top)


def layout(chart: Chart, width: float = 520.0, height: float = 280.0) -> Drawing:
    """Lay a chart out on a sheet of this size, in points."""
    drawn = [series for series in chart.series if any(value is not None for value in series.y)]
    frame = _frame(chart, drawn, width, height)
    marks: list[Mark] = [*_axes(chart, frame)]
    for place, series in enumerate(chart.series):
        if series in drawn:
            marks += _curve(chart, series, place, frame)
    marks += _names(chart.series, frame)
    if not drawn:
        middle = ((frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2)
        marks.append(Words(middle, "No readings yet", SIZE, SOFT, "middle"))
    return Drawing(width, height, chart.title, _description(chart), tuple(marks))


def _description(chart: Chart) -> str:
    names = ", ".join(series.name for series in chart.series) or "nothing yet"
    return f"{chart.y.title} against {chart.x.title}: {names}."


def _frame(chart: Chart, drawn: Sequence[Series], width: float, height: float) -> _Frame:
    xs = [value for series in drawn for value in series.x] or [0.0, 1.0]
    lows, highs = _reach(drawn)
    low = min(0.0, *lows) if chart.from_zero else min(lows)
    y_ticks = ticks(low, max(highs), max(3, int(height / 32)))
    x_ticks = ticks(min(0.0, *xs), max(xs), max(4, int(width / 60)))
    step = y_ticks[1] - y_ticks[0]
    widest = max(fonts.width(label(value, step), SMALL) for value in y_ticks)
    most = width * NAMES
    names = [min(fonts.width(series.name, SMALL, fonts.BOLD), most) for series in drawn]
    return _Frame(
        left=widest + 26.0,
        top=24.0,
        right=width - max([*names, 0.0]) - KEY - 2.0,
        bottom=height - 34.0,
        most=most,
        x_ticks=x_ticks,
        y_ticks=y_ticks,
    )


def _reach(drawn: Sequence[Series]) -> tuple[list[float], list[float]]:
    """Lower and upper ends of every point with its bar."""
    lows, highs = [], []
    for series in drawn:
        errors = series.error or [0.0] * len(series.y)
        for value, error in zip(series.y, errors, strict=True):
            if value is not None:
                lows.append(value - error)
                highs.append(value + error)
    return (lows, highs) if lows else ([0.0], [1.0])


def _axes(chart: Chart, frame: _Frame) -> Iterator[Mark]:
    yield Words((0.0, 12.0), chart.y.title, SIZE, INK, bold=True)
    y_step = frame.y_ticks[1] - frame.y_ticks[0]
    for value in frame.y_ticks:
        y = frame.y(value)
        yield Stroke(((frame.left, y), (frame.right, y)), GRID, 0.6, part="grid")
        text = label(value, y_step)
        yield Words((frame.left - 6.0, y + 2.8), text, SMALL, SOFT, "end")
    x_step = frame.x_ticks[1] - frame.x_ticks[0]
    for value in frame.x_ticks:
        x = frame.x(value)
        yield Stroke(((x, frame.bottom), (x, frame.bottom + 4.0)), SOFT, 0.8, part="axis")
        yield Words((x, frame.bottom + 14.0), label(value, x_step), SMALL, SOFT, "middle")
    zero = frame.y(0.0) if frame.y_ticks[0] <= 0.0 <= frame.y_ticks[-1] else frame.bottom
    yield Stroke(((frame.left, zero), (frame.right, zero)), SOFT, 1.0, part="axis")
    middle = (frame.left + frame.right) / 2
    yield Words((middle, frame.bottom + 28.0), chart.x.title, SIZE, INK, "middle", bold=True)


def _curve(chart: Chart, series: Series, place: int, frame: _Frame) -> Iterator[Mark]:
    colour = PALETTE[place % len(PALETTE)]
    errors = series.error or [0.0] * len(series.y)
    for piece in _pieces(series, frame):
        if len(piece) > 1:
            yield Stroke(tuple(piece), colour, 1.6, dashed=series.as_received)
    for x, value, error in zip(series.x, series.y, errors, strict=True):
        if value is None:
            continue
        at = (frame.x(x), frame.y(value))
        if error > 0.0:
            ends = (at[0], frame.y(value - error)), (at[0], frame.y(value + error))
            yield Stroke(ends, colour, 0.9, part="bar")
            for end in ends:
                yield Stroke(
                    ((end[0] - 2.2, end[1]), (end[0] + 2.2, end[1])), colour, 0.9, part="bar"
                )
        words = f"{series.name}: {value:.{chart.places}f} {chart.y.unit}".strip()
        if error > 0.0:
            words += f" ± {error:.{chart.places}f}"
        words += f" at {x:g} {chart.x.unit}".rstrip()
        shape = SHAPES[place % len(SHAPES)]
        yield Sign(at, shape, colour, not series.as_received, words)


def _pieces(series: Series, frame: _Frame) -> Iterator[list[Point]]:
    """The curve's stretches between gaps."""
    piece: list[Point] = []
    for x, value in zip(series.x, series.y, strict=True):
        if value is None:
            yield piece
            piece = []
        else:
            piece.append((frame.x(x), frame.y(value)))
    yield piece


def _names(all_series: Sequence[Series], frame: _Frame) -> Iterator[Mark]:
    """Each curve's name beside its last point, moved apart where they would meet."""
    ends: list[tuple[float, float, int]] = []
    for place, series in enumerate(all_series):
        last = [(x, y) for x, y in zip(series.x, series.y, strict=True) if y is not None]
        if last:
            x, y = last[-1]
            ends.append((frame.y(y), frame.x(x), place))
    ends.sort()
    bases = _spread([y for y, _, _ in ends], frame.top, frame.bottom + 2.0)
    for (y, x, place), base in zip(ends, bases, strict=True):
        series = all_series[place]
        colour, shape = PALETTE[place % len(PALETTE)], SHAPES[place % len(SHAPES)]
        at = (frame.right + KEY - 7.0, base)
        yield Stroke(((x + 4.0, y), (at[0] - 4.0, base)), colour, 0.5, part="leader")
        yield Sign(at, shape, colour, not series.as_received, series.name, 2.4)
        text = fonts.fitted(series.name, SMALL, frame.most, fonts.BOLD)
        yield Words((frame.right + KEY, base + 2.8), text, SMALL, INK, bold=True)


def _spread(wanted: Sequence[float], top: float, bottom: float) -> list[float]:
    """Heights at least a line apart, each as near as may be to what it wants."""
    placed: list[float] = []
    for height in wanted:
        placed.append(max(height, placed[-1] + LINE) if placed else max(height, top))
    limit = bottom
    for place in range(len(placed) - 1, -1, -1):
        placed[place] = min(placed[place], limit)
        limit = placed[place] - LINE
    return placed
