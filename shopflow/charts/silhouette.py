"""A port's silhouette, to scale: its width on both sides of a straight axis from seat to flange.

Before the work is dashed with open marks, after it solid over a light ground with filled marks, so
that each is told without colour. A tick runs across the port at every section.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow import fonts
from shopflow.charts.look import INK, PALETTE, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Area, Drawing, Mark, Point, Reading, Sign, Stroke, Words

GROUND = "#e3eaf2"
TALLEST = 0.42
"""Height of the port in the drawing at most, by its width."""

LINE = 1.3
"""From one line of text to the next, by the size of its letters."""

BEFORE, AFTER = PALETTE[0], PALETTE[1]
"""As the chart of areas has them."""


@dataclass(frozen=True)
class SilhouetteLine:
    """The widths of a port as it was at one time, in the unit they are shown in."""

    name: str
    places: Sequence[float]
    """Along the axis, from the datum, increasing."""

    widths: Sequence[float]
    words: Sequence[str]
    """Of each section, as "12 mm from the valve seat: 34 mm"."""

    is_before: bool = False


@dataclass(frozen=True)
class Silhouette:
    """A port along its axis, by one or two lines."""

    title: str
    description: str
    axis: str
    """Name of the axis with its unit."""

    ends: tuple[str, str]
    """Names of the left and the right end."""

    lines: Sequence[SilhouetteLine]
    from_right: bool = False
    """True where the datum is the right end."""

    places: int = 0
    """Decimals of the distances written below the ticks."""


@dataclass(frozen=True)
class _Frame:
    """Position of the port in the drawing."""

    left: float
    middle: float
    half: float
    """Half the height of the port in the drawing."""

    longest: float
    scale: float
    turned: bool

    def at(self, place: float, aside: float) -> Point:
        """A point of the port in the drawing; `aside` is positive downwards."""
        along = self.longest - place if self.turned else place
        return self.left + along * self.scale, self.middle + aside * self.scale


def layout_silhouette(
    silhouette: Silhouette, width: float = 560.0, type_size: float = SCREEN_TYPE
) -> Drawing:
    """Lay a silhouette out on a sheet of this width; its height follows from the port."""
    size = type_size
    frame = _frame(silhouette, width, size)
    bottom = frame.middle + frame.half
    marks: list[Mark] = []
    for line in sorted(silhouette.lines, key=lambda line: line.is_before):
        marks += _line(line, frame, size)
    for number, line in enumerate(silhouette.lines):
        marks += _signs(line, number, frame, size)
    marks += _axis(silhouette, frame, size)
    marks += _distances(silhouette, frame, bottom + LINE * size, size)
    marks += _ends(silhouette, width, size)
    marks += _axis_name(silhouette, width, bottom + 2.3 * LINE * size, size)
    legend, end = _legend(silhouette, width, bottom + 3.5 * LINE * size, size)
    return Drawing(width, end, silhouette.title, silhouette.description, (*marks, *legend))


def _frame(silhouette: Silhouette, width: float, size: float) -> _Frame:
    longest = max(line.places[-1] for line in silhouette.lines)
    widest = max(max(line.widths) for line in silhouette.lines)
    room = width - 3.0 * size
    scale = min(room / longest, TALLEST * width / widest)
    half = widest * scale / 2.0
    left = (width - longest * scale) / 2.0
    return _Frame(left, 1.6 * LINE * size + half, half, longest, scale, silhouette.from_right)


def _line(line: SilhouetteLine, frame: _Frame, size: float) -> Iterator[Mark]:
    """Both walls, on a light ground after the work, and a tick across at each section."""
    pairs = list(zip(line.places, line.widths, strict=True))
    upper = tuple(frame.at(place, -width / 2.0) for place, width in pairs)
    lower = tuple(frame.at(place, width / 2.0) for place, width in pairs)
    colour = BEFORE if line.is_before else AFTER
    if not line.is_before:
        yield Area((*upper, *reversed(lower)), GROUND)
        for ends in zip(upper, lower, strict=True):
            yield Stroke(ends, SOFT, 0.05 * size, part="leader")
    dash = (0.5 * size, 0.3 * size) if line.is_before else ()
    for wall in (upper, lower):
        yield Stroke(wall, colour, (0.13 if line.is_before else 0.17) * size, dash)
    if line.is_before:
        for ends in zip(upper, lower, strict=True):
            yield Stroke(ends, SOFT, 0.05 * size, (0.2 * size, 0.25 * size), part="leader")


def _signs(line: SilhouetteLine, number: int, frame: _Frame, size: float) -> Iterator[Mark]:
    """A mark on both walls at each section; the upper one tells its width."""
    for place, width, words in zip(line.places, line.widths, line.words, strict=True):
        reading = Reading(line.name, place, width, None, f"{line.name}: {words}", number)
        for aside, told in ((-width / 2.0, reading), (width / 2.0, None)):
            at = frame.at(place, aside)
            yield _sign(line, at, size, told)


def _sign(line: SilhouetteLine, at: Point, size: float, told: Reading | None = None) -> Sign:
    if line.is_before:
        return Sign(at, "circle", BEFORE, False, 0.27 * size, told)
    return Sign(at, "square", AFTER, True, 0.24 * size, told)


def _axis(silhouette: Silhouette, frame: _Frame, size: float) -> Iterator[Mark]:
    ends = frame.at(0.0, 0.0), frame.at(frame.longest, 0.0)
    yield Stroke(ends, INK, 0.07 * size, (size, 0.3 * size, 0.2 * size, 0.3 * size), part="axis")


def _distances(silhouette: Silhouette, frame: _Frame, y: float, size: float) -> Iterator[Mark]:
    """The distance of each section, where it has room beside the one before."""
    places = sorted({place for line in silhouette.lines for place in line.places})
    x_right = -size
    for place in sorted(places, reverse=frame.turned):
        x, words = frame.at(place, 0.0)[0], f"{place:.{silhouette.places}f}"
        half = fonts.width(words, size) / 2.0
        if x - half >= x_right + 0.5 * size:
            x_right = x + half
            yield Words((x, y), words, size, INK, "middle")


def _ends(silhouette: Silhouette, width: float, size: float) -> Iterator[Mark]:
    left, right = silhouette.ends
    yield Words((0.0, size), left, size, INK, bold=True)
    yield Words((width, size), right, size, INK, "end", bold=True)


def _axis_name(silhouette: Silhouette, width: float, y: float, size: float) -> Iterator[Mark]:
    yield Words((width / 2.0, y), silhouette.axis, size, SOFT, "middle")


def _legend(
    silhouette: Silhouette, width: float, top: float, size: float
) -> tuple[list[Mark], float]:
    """A sample of each line with its name, and where that ends."""
    marks: list[Mark] = []
    x, y = 0.0, top
    for line in silhouette.lines:
        room = fonts.width(line.name, size) + 4.6 * size
        if x and x + room > width:
            x, y = 0.0, y + LINE * size
        colour = BEFORE if line.is_before else AFTER
        dash = (0.5 * size, 0.3 * size) if line.is_before else ()
        middle = y - 0.33 * size
        marks += [
            Stroke(((x, middle), (x + 2.4 * size, middle)), colour, 0.15 * size, dash),
            _sign(line, (x + 1.2 * size, middle), size),
            Words((x + 2.9 * size, y), line.name, size, INK),
        ]
        x += room
    return marks, y + 0.6 * size
