"""Curves of a chart: lines, bars of uncertainty, and a mark at each point."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.charts.chart import Chart, Series
from shopflow.charts.frame import Frame
from shopflow.charts.look import PALETTE, SHAPES
from shopflow.charts.marks import Mark, Point, Reading, Sign, Stroke

HALF = 0.5
"""Length of a staircase before its first point and past its last, along the axis."""


def curve(chart: Chart, series: Series, index: int, frame: Frame) -> Iterator[Mark]:
    colour = PALETTE[index]
    for piece in [list(series.path)] if series.path else _pieces(series) if series.joined else ():
        if series.stepped:
            piece = _steps(piece)
        if len(piece) > 1:
            yield line(tuple(frame.at(x, y) for x, y in piece), series, index, frame)
    for x, y, error in series.points:
        if error:
            yield from _bar(frame.at(x, y - error), frame.at(x, y + error), colour, frame.type)
    links = series.links or [""] * len(series.points)
    for (x, y, error), link in zip(series.points, links, strict=True):
        words = chart.reading(series, x, y, error)
        reading = Reading(series.name, x, y, error, words, index, link)
        yield sign(frame.at(x, y), series, index, frame, reading)


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


def line(points: tuple[Point, ...], series: Series, index: int, frame: Frame) -> Stroke:
    dash = (0.5 * frame.type, 0.3 * frame.type) if series.as_received else ()
    return Stroke(points, PALETTE[index], 0.17 * frame.type, dash)


def _bar(low: Point, high: Point, colour: str, size: float) -> Iterator[Stroke]:
    width, reach = 0.09 * size, 0.24 * size
    yield Stroke((low, high), colour, width, part="bar")
    for x, y in (low, high):
        yield Stroke(((x - reach, y), (x + reach, y)), colour, width, part="bar")


def sign(
    at: Point, series: Series, index: int, frame: Frame, reading: Reading | None = None
) -> Sign:
    filled = not series.as_received
    size = 0.3 * frame.type if reading is None else frame.sign
    return Sign(at, SHAPES[index], PALETTE[index], filled, size, reading)
