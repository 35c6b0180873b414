"""Bar charts: rows of bars from a common zero, distinguished by form or letter, not by colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow import fonts
from shopflow.charts.chart import Axis
from shopflow.charts.look import GRID, INK, PALETTE, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Block, Drawing, Mark, Stroke, Words
from shopflow.charts.ticks import label, ticks
from shopflow.texts import gettext, lazy

DARK = frozenset({"#0072b2", "#000000"})
"""Colours that white letters are read on better than black ones."""

FORMS = 3
"""Bars of a row that forms tell apart: filled, hollow, thin."""

NAME_SHARE = 0.3
"""The part of the width that names of rows may take at most."""


@dataclass(frozen=True)
class Bars:
    """Values of every row under one name; None where a row has none. `error` as in a Series."""

    name: str
    values: Sequence[float | None]
    error: Sequence[float | None] | None = None


@dataclass(frozen=True)
class BarChart:
    """Rows of bars: of up to three kinds one under the other, or of up to eight end to end."""

    title: str
    rows: Sequence[str]
    axis: Axis
    bars: Sequence[Bars]
    places: int = 0
    """Decimals of a value."""

    end_to_end: bool = False
    level: Bars | None = None
    """A line across each row, as what there is room for."""

    nothing: str = lazy("Nothing to show yet")

    @property
    def description(self) -> str:
        """The chart in words, for a reader who cannot see it."""
        words = [
            f"{row}: "
            + ", ".join(f"{bar.name} {self.value(bar.values[index])}" for bar in self.named)
            for index, row in enumerate(self.rows)
        ]
        return f"{self.axis.title}. {'; '.join(words) or self.nothing}."

    @property
    def named(self) -> list[Bars]:
        """All that is drawn: the bars, then the line across."""
        return [*self.bars, self.level] if self.level else list(self.bars)

    def value(self, value: float | None) -> str:
        """A value as it is written beside its bar."""
        return gettext("none") if value is None else f"{value:.{self.places}f}".replace("-", "−")


@dataclass(frozen=True)
class _Frame:
    """Extent of the bars, the values at its ends, and the size of letters."""

    left: float
    right: float
    top: float
    ticks: Sequence[float]
    type: float
    row: float
    """Height of a row."""

    bar: float
    above: float = 0.0
    """Height of a row's name where it stands above the bars."""

    def x(self, value: float) -> float:
        """Place along the axis."""
        low, high = self.ticks[0], self.ticks[-1]
        return self.left + (value - low) / (high - low) * (self.right - self.left)

    def y(self, row: int) -> float:
        """Top of a row's first bar."""
        return self.top + row * self.row + 0.4 * self.type + self.above


def layout_bars(
    chart: BarChart,
    width: float = 560.0,
    type_size: float = SCREEN_TYPE,
    names_above: bool = False,
) -> Drawing:
    """Lay a bar chart out on a sheet of this width; its height follows from its rows.

    Rows have their names beside the bars; on a narrow sheet above them. Raises ValueError for more
    kinds of bars than can be distinguished.
    """
    most = len(PALETTE) if chart.end_to_end else FORMS
    if len(chart.bars) > most:
        raise ValueError(
            gettext(
                "a chart shows {most} kinds of bars at most, not {bars}",
                most=most,
                bars=len(chart.bars),
            )
        )
    legend, under = _legend(chart, width, type_size)
    frame = _frame(chart, width, under, type_size, names_above)
    bottom = frame.top + max(len(chart.rows), 2) * frame.row
    marks = [*legend, *_axis(chart, frame, bottom)]
    for index, name in enumerate(chart.rows):
        marks += _row(chart, index, name, frame)
    if not chart.rows:
        at = ((frame.left + frame.right) / 2, (frame.top + bottom) / 2)
        marks.append(Words(at, chart.nothing, type_size, SOFT, "middle"))
    return Drawing(width, bottom + 1.9 * type_size, chart.title, chart.description, tuple(marks))


def _frame(chart: BarChart, width: float, top: float, size: float, names_above: bool) -> _Frame:
    names = max((fonts.width(row, size) for row in chart.rows), default=0.0)
    left = 0.6 * size if names_above else min(names, NAME_SHARE * width) + 0.9 * size
    ends = [0.0, *_ends(chart)]
    # Nothing but zeros still has an axis to the right of it.
    ends = ends if any(ends) else [0.0, 1.0]
    written = max((fonts.width(chart.value(end), size) for end in ends), default=0.0)
    right = width - written - 1.2 * size
    least = 10.0**-chart.places
    tick_values = ticks(
        min(ends), max(ends), max(2, int((right - left) / (written + 2.4 * size))), least
    )
    count = 1 if chart.end_to_end else max(1, len(chart.bars))
    bar, above = 1.35 * size, 1.3 * size if names_above else 0.0
    row = count * bar + 0.8 * size + above
    return _Frame(left, right, top, tick_values, size, row, bar, above)


def _ends(chart: BarChart) -> Iterator[float]:
    """Extremes of the bars."""
    for index in range(len(chart.rows)):
        values = [item.values[index] or 0.0 for item in chart.bars]
        yield from [sum(values)] if chart.end_to_end else values
        for item in chart.bars:
            spare = item.error[index] if item.error else None
            if spare is not None:
                yield (item.values[index] or 0.0) + spare
                yield (item.values[index] or 0.0) - spare
        if chart.level:
            yield chart.level.values[index] or 0.0


def _legend(chart: BarChart, width: float, size: float) -> tuple[list[Mark], float]:
    """The axis' title, what each kind of bar is, and where that ends."""
    marks: list[Mark] = [Words((0.0, size), chart.axis.title, size, INK, bold=True)]
    x, y = 0.0, 2.6 * size
    if len(chart.named) < 2:
        return marks, 1.8 * size
    for number, item in enumerate(chart.named):
        room = 2.4 * size + fonts.width(item.name, size) + 1.4 * size
        if x and x + room > width:
            x, y = 0.0, y + 1.6 * size
        if item is chart.level:
            marks += _line_across(x + 0.8 * size, y - 0.95 * size, y + 0.25 * size, size)
        else:
            marks += _bar(chart, number, (x, y - 0.9 * size, x + 1.7 * size, y + 0.2 * size), "")
        marks.append(Words((x + 2.2 * size, y), item.name, size, INK))
        x += room
    return marks, y + 0.8 * size


def _axis(chart: BarChart, frame: _Frame, bottom: float) -> Iterator[Mark]:
    size, step = frame.type, frame.ticks[1] - frame.ticks[0]
    for value in frame.ticks:
        x = frame.x(value)
        yield Stroke(((x, frame.top), (x, bottom)), GRID, 0.07 * size, part="grid")
        yield Words((x, bottom + 1.3 * size), label(value, step), size, SOFT, "middle")
    zero = frame.x(0.0)
    yield Stroke(((zero, frame.top), (zero, bottom)), SOFT, 0.11 * size, part="axis")


def _row(chart: BarChart, index: int, name: str, frame: _Frame) -> Iterator[Mark]:
    size, top = frame.type, frame.y(index)
    yield _row_name(name, top, frame)
    yield from (_stacked if chart.end_to_end else _grouped)(chart, index, top, frame)
    room_for = chart.level.values[index] if chart.level else None
    if room_for is not None:
        reach = 0.3 * size
        yield from _line_across(frame.x(room_for), top - reach, top + frame.bar + reach, size)


def _row_name(name: str, top: float, frame: _Frame) -> Words:
    """A row's name above its bars, or beside the middle of them."""
    size = frame.type
    if frame.above:
        room = frame.right - frame.left
        return Words(
            (frame.left + 0.4 * size, top - 0.4 * size), fonts.fitted(name, size, room), size, INK
        )
    middle = top + (frame.row - 0.8 * size) / 2
    at = (frame.left - 0.6 * size, middle + 0.33 * size)
    return Words(at, fonts.fitted(name, size, frame.left - 0.9 * size), size, INK, "end")


def _grouped(chart: BarChart, index: int, top: float, frame: _Frame) -> Iterator[Mark]:
    """A row's bars one under the other, each with its value at its end."""
    size = frame.type
    for number, item in enumerate(chart.bars):
        value = item.values[index]
        if value is None:
            continue
        high = top + number * frame.bar
        low = high + 0.9 * frame.bar
        words = f"{chart.rows[index]}, {item.name}: {chart.value(value)}"
        ends = sorted((frame.x(0.0), frame.x(value)))
        yield from _bar(chart, number, (ends[0], high, ends[1], low), words)
        spare = item.error[index] if item.error else None
        middle = (high + low) / 2
        if spare:
            yield from _whisker(frame.x(value - spare), frame.x(value + spare), middle, size)
        end = max(frame.x(0.0), frame.x(value + (spare or 0.0)))
        yield Words((end + 0.4 * size, middle + 0.33 * size), chart.value(value), size, INK)


def _stacked(chart: BarChart, index: int, top: float, frame: _Frame) -> Iterator[Mark]:
    """A row's bars end to end, their sum at the end."""
    reached = 0.0
    for number, item in enumerate(chart.bars):
        value = item.values[index] or 0.0
        if value:
            words = f"{chart.rows[index]}, {item.name}: {chart.value(value)}"
            box = (frame.x(reached), top, frame.x(reached + value), top + frame.bar)
            yield from _bar(chart, number, box, words)
        reached += value
    level = (chart.level.values[index] or 0.0) if chart.level else 0.0
    size, end = frame.type, frame.x(reached)
    # The sum does not stand on the line across.
    near = 0.0 <= frame.x(level) - end < fonts.width(chart.value(reached), size) + 0.8 * size
    at = (frame.x(level) if near and chart.level else end) + 0.4 * size
    yield Words((at, top + frame.bar / 2 + 0.33 * size), chart.value(reached), size, INK)


Box = tuple[float, float, float, float]


def _bar(chart: BarChart, number: int, box: Box, words: str) -> Iterator[Mark]:
    """One bar: filled, hollow or thin; or with its letter, where bars lie end to end."""
    left, top, right, bottom = box
    if not chart.end_to_end:
        thin = 0.3 * (bottom - top) if number == 2 else 0.0
        box = (left, top + thin, right, bottom - thin)
        yield Block(box, PALETTE[number], filled=number != 1, words=words)
        return
    colour, size = PALETTE[number], 0.62 * (bottom - top)
    yield Block(box, colour, words=words)
    letter = chr(ord("A") + number)
    if right - left > fonts.width(letter, size) + 0.2 * size:
        at = ((left + right) / 2, (top + bottom) / 2 + 0.33 * size)
        yield Words(at, letter, size, "#ffffff" if colour in DARK else "#000000", "middle", True)


def _line_across(x: float, top: float, bottom: float, size: float) -> Iterator[Stroke]:
    """A line with white at its sides, so that it shows on bars of any colour."""
    ends = ((x, top), (x, bottom))
    yield Stroke(ends, "#ffffff", 0.56 * size, part="leader")
    yield Stroke(ends, INK, 0.28 * size, part="level")


def _whisker(low: float, high: float, y: float, size: float) -> Iterator[Stroke]:
    yield Stroke(((low, y), (high, y)), INK, 0.12 * size, part="bar")
    for x in (low, high):
        yield Stroke(((x, y - 0.3 * size), (x, y + 0.3 * size)), INK, 0.12 * size, part="bar")
