"""From a chart to a drawing: axes, curves, marks and names, on a sheet of any width."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from shopflow import fonts
from shopflow.charts import bands, legend
from shopflow.charts.chart import Chart
from shopflow.charts.curves import HALF, curve
from shopflow.charts.frame import Frame
from shopflow.charts.look import GRID, INK, PALETTE, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Drawing, Mark, Stroke, Words
from shopflow.charts.ticks import label, ticks
from shopflow.texts import gettext

FEW_POINTS = 60
"""Points whose marks have room enough at their full size."""


def layout(
    chart: Chart,
    width: float = 520.0,
    height: float = 280.0,
    type_size: float = SCREEN_TYPE,
    names_below: bool = False,
) -> Drawing:
    """Lay a chart out on a sheet of this size, letters and all in points.

    Names stand at the ends of their curves; on a narrow sheet below the plot, and the sheet is
    higher by them. Raises ValueError for more series than can be distinguished.
    """
    if len(chart.series) > len(PALETTE):
        raise ValueError(
            gettext(
                "a chart shows {palette} series at most, not {series}",
                palette=len(PALETTE),
                series=len(chart.series),
            )
        )
    lines = (
        legend.below_lines(chart, width, type_size)
        if names_below
        else legend.beside_lines(chart, width, height - 4.6 * type_size, type_size)
    )
    frame = _frame(chart, width, height, type_size, [] if names_below else lines)
    marks: list[Mark] = [
        bands.shaded(shade, index, frame.at) for index, shade in enumerate(chart.shades)
    ]
    for band in chart.bands:
        marks += bands.marks(band, frame.at, type_size)
    marks += _axes(chart, frame, width)
    for index, series in enumerate(chart.series):
        marks += curve(chart, series, index, frame)
    marks += _labels(chart, frame)
    marks += (
        legend.below(chart, lines, height + 0.6 * type_size, frame)
        if names_below
        else legend.beside(chart, lines, frame)
    )
    if not chart.bands and not any(series.points for series in chart.series):
        middle = ((frame.left + frame.right) / 2, (frame.top + frame.bottom) / 2)
        marks.append(Words(middle, chart.nothing, type_size, SOFT, "middle"))
    if names_below and lines:
        height += (1.0 + legend.LINE * sum(map(len, lines))) * type_size
    return Drawing(width, height, chart.title, chart.description, tuple(marks))


def _frame(
    chart: Chart, width: float, height: float, size: float, beside: Sequence[list[str]]
) -> Frame:
    """The frame that leaves room for the names beside the plot."""
    top, bottom = 2.3 * size, height - 3.3 * size
    widest = max((fonts.width(text, size) for block in beside for text in block), default=0.0)
    # Two steps would take a range just beyond a round value to one twice as large.
    y_ticks = _y_ticks(chart, max(3, int((bottom - top) / (2.6 * size))))
    left = _widest_label(y_ticks, size) + 0.9 * size
    right = width - (widest + 4.6 * size if beside else 2.0 * size)
    x_ticks = _x_ticks(chart, right - left, size)
    sign = _sign_size(sum(len(item.points) for item in chart.series), size)
    return Frame(left, top, right, bottom, x_ticks, y_ticks, size, sign)


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


def _axes(chart: Chart, frame: Frame, width: float) -> Iterator[Mark]:
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
    yield Words(
        (_kept_inside(chart.x.title, frame, width), frame.bottom + 2.9 * size),
        fonts.fitted(chart.x.title, size, width, fonts.BOLD),
        size,
        INK,
        "middle",
        bold=True,
    )


def _kept_inside(title: str, frame: Frame, width: float) -> float:
    """The middle of the plot, or as near to it as the title has room in the drawing."""
    half = min(fonts.width(title, frame.type, fonts.BOLD), width) / 2
    return min(max((frame.left + frame.right) / 2, half), width - half)


def _labels(chart: Chart, frame: Frame) -> Iterator[Mark]:
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
