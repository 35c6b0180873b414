"""From a chart to a drawing: axes, curves, marks, and each curve's name at its end."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from shopflow import fonts
from shopflow.charts import bands, names
from shopflow.charts.chart import Band, Chart, Series, Shade
from shopflow.charts.marks import (
    Drawing,
    Mark,
    Point,
    Reading,
    Shape,
    Sign,
    Stroke,
    Words,
)
from shopflow.charts.ticks import label, ticks
from shopflow.texts import gettext

PALETTE = (
    "#0072b2",
    "#d55e00",
    "#009e73",
    "#cc79a7",
    "#000000",
    "#56b4e9",
    "#e69f00",
    "#8c8000",
)
"""Okabe and Ito's (2008), for any eyes, in an order of our own; yellow darkened for white."""

SHAPES: tuple[Shape, ...] = (
    "circle", "square", "triangle", "diamond", "wedge", "pentagon", "cross", "star",
)  # fmt: skip
INK = "#1c2430"
SOFT = "#5a6472"
GRID = "#dde2e8"

SCREEN_TYPE = 12.0
"""Size of the letters where a drawing is shown about as large as it was laid out."""

NAME_SHARE = 0.3
"""The part of the width that names may take at most, their samples not counted."""

HALF = 0.5
"""Length of a staircase before its first point and past its last, along the axis."""

FEW_POINTS = 60
"""Points whose marks have room enough at their full size."""


@dataclass(frozen=True)
class _Frame:
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


@dataclass(frozen=True)
class _Name:
    """The name of a curve or band on its lines, and where that ends."""

    of: Series | Band | Shade
    place: int
    lines: list[str]
    end: Point


def layout(
    chart: Chart, width: float = 520.0, height: float = 280.0, type_size: float = SCREEN_TYPE
) -> Drawing:
    """Lay a chart out on a sheet of this size, letters and all in points.

    Raises ValueError for more series than can be distinguished.
    """
    if len(chart.series) > len(PALETTE):
        raise ValueError(
            gettext(
                "a chart shows {palette} series at most, not {series}",
                palette=len(PALETTE),
                series=len(chart.series),
            )
        )
    frame, lines = _frame(chart, width, height, type_size)
    marks: list[Mark] = [
        bands.shaded(shade, index, frame.at) for index, shade in enumerate(chart.shades)
    ]
    for band in chart.bands:
        marks += bands.marks(band, frame.at, type_size)
    marks += _axes(chart, frame)
    for index, series in enumerate(chart.series):
        marks += _curve(chart, series, index, frame)
    marks += _labels(chart, frame)
    marks += _names(chart, lines, frame)
    if not chart.bands and not any(series.points for series in chart.series):
        middle = ((frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2)
        marks.append(Words(middle, chart.nothing, type_size, SOFT, "middle"))
    return Drawing(width, height, chart.title, chart.description, tuple(marks))


def _frame(
    chart: Chart, width: float, height: float, size: float
) -> tuple[_Frame, list[list[str]]]:
    """The frame, and every curve's name on its lines."""
    top, bottom = 2.3 * size, height - 3.3 * size
    room = bottom - top + size
    # Names take two or three lines where there is height for all of them.
    named: list[Series | Band | Shade] = [*chart.series, *chart.bands, *chart.shades]
    most = max(1, min(3, int(room / (1.25 * size * max(1, len(named))))))
    lines = [names.wrapped(item.name, size, width * NAME_SHARE, most) for item in named]
    widest = max((fonts.width(text, size) for block in lines for text in block), default=0.0)
    y_ticks = _y_ticks(chart, int((bottom - top) / (2.6 * size)))
    left = _widest_label(y_ticks, size) + 0.9 * size
    right = width - (widest + 4.6 * size if named else 2.0 * size)
    x_ticks = _x_ticks(chart, right - left, size)
    sign = _sign_size(sum(len(item.points) for item in chart.series), size)
    return _Frame(left, top, right, bottom, x_ticks, y_ticks, size, sign), lines


def _sign_size(points: int, size: float) -> float:
    """Marks that leave the curves to be seen, and still show their shapes."""
    return size * max(0.18, 0.3 * min(1.0, math.sqrt(FEW_POINTS / max(points, 1))))


def _y_ticks(chart: Chart, most: int) -> list[float]:
    """Ticks that take in every point with its bar."""
    ends = [
        end
        for series in chart.series
        for _, y, error in series.points
        for end in (y - (error or 0.0), y + (error or 0.0))
    ]
    ends += [end for band in chart.bands for end in (*band.least, *band.greatest)]
    ends += [y for series in chart.series for _, y in series.path]
    ends = ends or [0.0, 1.0]
    if chart.from_zero:
        ends.append(0.0)
    return ticks(min(ends), max(ends), most)


def _x_ticks(chart: Chart, room: float, size: float) -> list[float]:
    """Ticks over every point, as many as their labels leave room for."""
    values = [
        end
        for series in chart.series
        for x, _, _ in series.points
        for end in ((x - HALF, x + HALF) if series.stepped else (x,))
    ]
    values += [x for band in chart.bands for x in band.x]
    values += [x for series in chart.series for x, _ in series.path]
    values += [x for shade in chart.shades for x in shade.x]
    if chart.x_from_zero or not values:
        values = [0.0, *(values or [1.0])]
    # What is counted has nothing between one and the next.
    least = 0.0 if chart.x_places is None else 10.0**-chart.x_places
    low, high = min(values), max(values)
    values_marked = ticks(low, high, 2, least)
    for most in range(3, 15):
        finer = ticks(low, high, most, least)
        if finer == values_marked:
            continue
        if (_widest_label(finer, size, chart.x_words) + 1.6 * size) * (len(finer) - 1) > room:
            break
        values_marked = finer
    return values_marked


def _widest_label(
    values: Sequence[float], size: float, words: Callable[[float], str] | None = None
) -> float:
    step = values[1] - values[0]
    return max(fonts.width(words(value) if words else label(value, step), size) for value in values)


def _axes(chart: Chart, frame: _Frame) -> Iterator[Mark]:
    size = frame.type
    yield Words((0.0, size), chart.y.title, size, INK, bold=True)
    step = frame.y_ticks[1] - frame.y_ticks[0]
    for value in frame.y_ticks:
        _, y = frame.at(frame.x_ticks[0], value)
        yield Stroke(((frame.left, y), (frame.right, y)), GRID, 0.07 * size, part="grid")
        at = (frame.left - 0.6 * size, y + 0.33 * size)
        yield Words(at, label(value, step), size, SOFT, "end")
    step = frame.x_ticks[1] - frame.x_ticks[0]
    for value in frame.x_ticks:
        x, _ = frame.at(value, frame.y_ticks[0])
        ends = ((x, frame.bottom), (x, frame.bottom + 0.4 * size))
        yield Stroke(ends, SOFT, 0.09 * size, part="axis")
        at = (x, frame.bottom + 1.45 * size)
        text = chart.x_words(value) if chart.x_words else label(value, step)
        yield Words(at, text, size, SOFT, "middle")
    base = 0.0 if frame.y_ticks[0] <= 0.0 <= frame.y_ticks[-1] else frame.y_ticks[0]
    ends = (frame.at(frame.x_ticks[0], base), frame.at(frame.x_ticks[-1], base))
    yield Stroke(ends, SOFT, 0.11 * size, part="axis")
    at = ((frame.left + frame.right) / 2, frame.bottom + 2.9 * size)
    yield Words(at, chart.x.title, size, INK, "middle", bold=True)


def _curve(chart: Chart, series: Series, index: int, frame: _Frame) -> Iterator[Mark]:
    colour = PALETTE[index]
    for piece in [list(series.path)] if series.path else _pieces(series) if series.joined else ():
        if series.stepped:
            piece = _steps(piece)
        if len(piece) > 1:
            yield _line(tuple(frame.at(x, y) for x, y in piece), series, index, frame)
    for x, y, error in series.points:
        if error:
            yield from _bar(frame.at(x, y - error), frame.at(x, y + error), colour, frame.type)
    links = series.links or [""] * len(series.points)
    for (x, y, error), link in zip(series.points, links, strict=True):
        words = chart.reading(series, x, y, error)
        reading = Reading(series.name, x, y, error, words, index, link)
        yield _sign(frame.at(x, y), series, index, frame, reading)


def _labels(chart: Chart, frame: _Frame) -> Iterator[Mark]:
    """A label beside each point, where it meets neither another label nor another's point."""
    size = 0.9 * frame.type
    positions = [[frame.at(x, y) for x, y, _ in series.points] for series in chart.series]
    occupied = [position for points in positions for position in points]
    for series, points in zip(chart.series, positions, strict=True):
        for text, (x, y) in zip(series.labels, points, strict=False):
            middle = (x + 0.5 * size + fonts.width(text, size) / 2, y - 0.7 * size)
            reach = fonts.width(text, size)
            if all(
                abs(middle[0] - a) > reach or abs(middle[1] - b) > size
                for a, b in occupied
                if (a, b) != (x, y)
            ):
                occupied.append(middle)
                yield Words((x + 0.5 * size, y - 0.4 * size), text, size, INK)


def _pieces(series: Series) -> list[list[Point]]:
    """The curve's stretches between gaps."""
    pieces: list[list[Point]] = [[]]
    for x, y in zip(series.x, series.y, strict=True):
        if y is None:
            pieces.append([])
        else:
            pieces[-1].append((x, y))
    return pieces


def _steps(piece: Sequence[Point]) -> list[Point]:
    """A stretch of curve as a staircase: level about each point, half a step to either side."""
    corners: list[Point] = []
    for index, (x, y) in enumerate(piece):
        before = (x - piece[index - 1][0]) / 2 if index else HALF
        after = (piece[index + 1][0] - x) / 2 if index + 1 < len(piece) else HALF
        corners += [(x - before, y), (x + after, y)]
    return corners


def _line(points: tuple[Point, ...], series: Series, index: int, frame: _Frame) -> Stroke:
    dash = (0.5 * frame.type, 0.3 * frame.type) if series.as_received else ()
    return Stroke(points, PALETTE[index], 0.17 * frame.type, dash)


def _bar(low: Point, high: Point, colour: str, size: float) -> Iterator[Stroke]:
    width, reach = 0.09 * size, 0.24 * size
    yield Stroke((low, high), colour, width, part="bar")
    for x, y in (low, high):
        yield Stroke(((x - reach, y), (x + reach, y)), colour, width, part="bar")


def _sign(
    at: Point, series: Series, index: int, frame: _Frame, reading: Reading | None = None
) -> Sign:
    filled = not series.as_received
    size = 0.3 * frame.type if reading is None else frame.sign
    return Sign(at, SHAPES[index], PALETTE[index], filled, size, reading)


def _names(chart: Chart, lines: Sequence[list[str]], frame: _Frame) -> Iterator[Mark]:
    """Each curve's and band's name with a sample of it, beside its last point."""
    ends = [
        _Name(series, index, lines[index], frame.at(*_named_at(series)))
        for index, series in enumerate(chart.series)
        if series.points
    ]
    ends += [
        _Name(band, index, lines[index], frame.at(band.x[-1], band.middle[-1]))
        for index, band in enumerate(chart.bands, start=len(chart.series))
    ]
    before = len(chart.series) + len(chart.bands)
    ends += [
        _Name(shade, index, lines[before + index], frame.at(shade.x[-1], shade.y[-1]))
        for index, shade in enumerate(chart.shades)
    ]
    ends.sort(key=lambda item: item.end[1])
    step = 1.25 * frame.type
    wanted = [item.end[1] - 0.6 * step for item in ends]
    heights = [len(item.lines) * step for item in ends]
    reach = (frame.top - 0.6 * step, frame.bottom + 0.6 * step)
    tops = names.spread(wanted, heights, *reach)
    for item, top in zip(ends, tops, strict=True):
        yield from _name(item, top + 0.6 * step, frame)


def _named_at(series: Series) -> Point:
    """The point a name stands beside: the last, or the highest of a curve that falls to zero."""
    points = [(x, y) for x, y, _ in series.points]
    return max(series.path, key=lambda point: point[1]) if series.path else points[-1]


def _has_leader(of: Series | Band | Shade) -> bool:
    """Tell whether a line leads to the name; from a curve's middle it would cross the others."""
    if isinstance(of, Series):
        return of.joined and len(of.points) > 1 and not of.path
    return isinstance(of, Band)


def _name(item: _Name, height: float, frame: _Frame) -> Iterator[Mark]:
    """One name: its leader, its sample at this height, its lines of text."""
    size = frame.type
    left, right = frame.right + 1.6 * size, frame.right + 3.6 * size
    end_x, end_y = item.end
    start = (end_x + 0.6 * size, end_y)
    joined = _has_leader(item.of)
    # A point alone is known by its mark; a line from it would look like a curve.
    if joined and (abs(height - end_y) > 0.3 * size or left - end_x > 2.6 * size):
        yield Stroke((start, (left - 0.3 * size, height)), SOFT, 0.06 * size, part="leader")
    yield from _sample(item, left, right, height, frame)
    for number, text in enumerate(item.lines):
        at = (right + 0.5 * size, height + (0.33 + 1.25 * number) * size)
        yield Words(at, text, size, INK)


def _sample(item: _Name, left: float, right: float, height: float, frame: _Frame) -> Iterator[Mark]:
    """Sample before a name: a piece of the curve or of the band."""
    size = frame.type
    if isinstance(item.of, Band):
        yield from bands.sample(left, right, height, size)
        return
    if isinstance(item.of, Shade):
        yield bands.shade_sample(item.place, left, right, height, size)
        return
    if item.of.joined:
        yield _line(((left, height), (right, height)), item.of, item.place, frame)
    yield _sign(((left + right) / 2, height), item.of, item.place, frame)
