"""Names of a chart's curves, bands and shaded areas, each with a sample of it.

They stand at the curves' ends, or below the plot where there is no room beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow.charts import bands, names
from shopflow.charts.chart import Band, Chart, Series, Shade
from shopflow.charts.curves import line, sign
from shopflow.charts.frame import Frame
from shopflow.charts.look import INK, SOFT
from shopflow.charts.marks import Mark, Point, Stroke, Words

NAME_SHARE = 0.3
"""The part of the width that names may take at most, their samples not counted."""


LINE = 1.25
"""Height of a line of names, in sizes of letters."""

SAMPLE = 2.5
"""Room for a sample and the space after it, in sizes of letters."""

Named = Series | Band | Shade


@dataclass(frozen=True)
class _Name:
    """The name of a curve, band or shaded area on its lines, and the point where that ends."""

    of: Named
    place: int
    """Number among those of its kind."""

    lines: list[str]
    end: Point


def beside_lines(chart: Chart, width: float, room: float, size: float) -> list[list[str]]:
    """Each name on its lines for a legend beside the plot, in the order of `named`.

    Names take two or three lines where there is height for all of them.
    """
    items = _named(chart)
    most = max(1, min(3, int(room / (LINE * size * max(1, len(items))))))
    return [names.wrapped(item.name, size, width * NAME_SHARE, most) for item, _ in items]


def below_lines(chart: Chart, width: float, size: float) -> list[list[str]]:
    """Each name on its lines for a legend below the plot, in the order of `named`."""
    return [names.wrapped(item.name, size, width - SAMPLE * size, 2) for item, _ in _named(chart)]


def _named(chart: Chart) -> list[tuple[Named, int]]:
    """All that has a name, each with its number among those of its kind."""
    kinds: tuple[Sequence[Named], ...] = (chart.series, chart.bands, chart.shades)
    return [(item, number) for items in kinds for number, item in enumerate(items)]


def below(chart: Chart, lines: Sequence[list[str]], top: float, frame: Frame) -> Iterator[Mark]:
    """Each name with its sample, one under the other from this height."""
    size = frame.type
    for (item, number), texts in zip(_named(chart), lines, strict=True):
        name = _Name(item, number, texts, (0.0, 0.0))
        yield from _sample(name, 0.0, 2.0 * size, top + 0.5 * LINE * size, frame)
        for row, text in enumerate(texts):
            at = (SAMPLE * size, top + (0.5 * LINE + 0.33 + LINE * row) * size)
            yield Words(at, text, size, INK)
        top += len(texts) * LINE * size


def beside(chart: Chart, lines: Sequence[list[str]], frame: Frame) -> Iterator[Mark]:
    """Each name with a sample of it, beside the last point of what it names."""
    ends = [
        _Name(item, number, texts, frame.at(*_named_at(item)))
        for (item, number), texts in zip(_named(chart), lines, strict=True)
        if not isinstance(item, Series) or item.points
    ]
    ends.sort(key=lambda item: item.end[1])
    step = LINE * frame.type
    wanted = [item.end[1] - 0.6 * step for item in ends]
    heights = [len(item.lines) * step for item in ends]
    reach = (frame.top - 0.6 * step, frame.bottom + 0.6 * step)
    tops = names.spread(wanted, heights, *reach)
    for item, top in zip(ends, tops, strict=True):
        yield from _name(item, top + 0.6 * step, frame)


def _named_at(item: Named) -> Point:
    """The point a name stands beside: the last, or the highest of a curve that falls to zero."""
    if isinstance(item, Band):
        return item.x[-1], item.middle[-1]
    if isinstance(item, Shade):
        return item.x[-1], item.y[-1]
    x, y, _ = item.points[-1]
    return max(item.path, key=lambda point: point[1]) if item.path else (x, y)


def _has_leader(of: Named) -> bool:
    """Tell whether a line leads to the name; from a curve's middle it would cross the others."""
    if isinstance(of, Series):
        return of.joined and len(of.points) > 1 and not of.path
    return isinstance(of, Band)


def _name(item: _Name, height: float, frame: Frame) -> Iterator[Mark]:
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
        at = (right + 0.5 * size, height + (0.33 + LINE * number) * size)
        yield Words(at, text, size, INK)


def _sample(item: _Name, left: float, right: float, height: float, frame: Frame) -> Iterator[Mark]:
    """Sample before a name: a piece of the curve or of the band."""
    size = frame.type
    if isinstance(item.of, Band):
        yield from bands.sample(left, right, height, size)
        return
    if isinstance(item.of, Shade):
        yield bands.shade_sample(item.place, left, right, height, size)
        return
    if item.of.joined:
        yield line(((left, height), (right, height)), item.of, item.place, frame)
    yield sign(((left + right) / 2, height), item.of, item.place, frame)
