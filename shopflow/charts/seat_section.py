"""A seat in section, to scale: one side of it, the chamber above, the valve's axis at the left.

Form and thickness tell its parts apart, so that it reads the same without colour. Each cut has its
label beside the metal on a line of its own; a leader leads there from the middle of its face.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow import fonts
from shopflow.charts.look import INK, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Area, Drawing, Mark, Point, Sign, Stroke, Words

METAL = "#d3d9e0"
TALLEST = 1.25
"""Height of the section at most, by its width."""

LINE = 1.25
"""From one line of text to the next, by the size of its letters."""

NICE = (1.0, 2.0, 5.0)


@dataclass(frozen=True)
class SectionFace:
    """The straight part of a cut, from its chamber edge to its throat edge, and its label."""

    outer: Point
    inner: Point
    label: str
    """As "45°"; a second line below it has its `width`."""

    width: str
    is_contact: bool = False


@dataclass(frozen=True)
class SeatSection:
    """A seat by points (radius, depth) in the unit it is shown in."""

    title: str
    description: str
    unit: str
    surface: Sequence[Point]
    """The cut metal from the chamber edge to the throat edge, its radii included."""

    faces: Sequence[SectionFace]
    valve: Sequence[Point] = ()
    """The valve's face from inside out, then its rim and the face of its head where known."""

    throat: float | None = None
    """Radius of the throat where it was measured."""

    names: Sequence[tuple[str, str]] = ()
    """Parts the legend names: "metal", "contact", "valve" or "throat", and its words."""


@dataclass(frozen=True)
class _Frame:
    """Position of the section in the drawing, by the radius and depth of its edges."""

    left: float
    """Radius at the left edge."""

    top: float
    """Depth at the upper edge."""

    right: float
    bottom: float
    scale: float

    def at(self, point: Point) -> Point:
        """A point of the seat in the drawing."""
        return (point[0] - self.left) * self.scale, (point[1] - self.top) * self.scale


def layout_seat(
    section: SeatSection, width: float = 300.0, type_size: float = SCREEN_TYPE
) -> Drawing:
    """Lay a section out on a sheet of this width; its height follows from the seat."""
    size = type_size
    column = width - _label_width(section, size) - 0.4 * size
    frame = _frame(section, column - 1.6 * size)
    elbow = (frame.right - frame.left) * frame.scale
    room = 2 * LINE * size + 0.3 * size
    heights = _spread([frame.at(_middle(face))[1] for face in section.faces], room, 0.7 * room)
    height = max((frame.bottom - frame.top) * frame.scale, heights[-1] + 0.7 * room)
    marks: list[Mark] = [
        *_metal(section, frame),
        *_valve(section, frame, size),
        *_surface(section, frame, size),
    ]
    for face, y in zip(section.faces, heights, strict=True):
        marks += _label(face, frame, (elbow, elbow + 1.2 * size), y, size)
    marks += _bar(section, frame, height, size)
    legend, bottom = _legend(section, width, height + 2.2 * LINE * size, size)
    return Drawing(width, bottom, section.title, section.description, (*marks, *legend))


def _label_width(section: SeatSection, size: float) -> float:
    labels = [fonts.width(face.label, size, fonts.BOLD) for face in section.faces]
    return max([*labels, *(fonts.width(face.width, size) for face in section.faces)])


def _middle(face: SectionFace) -> Point:
    return (face.outer[0] + face.inner[0]) / 2, (face.outer[1] + face.inner[1]) / 2


def _frame(section: SeatSection, width: float) -> _Frame:
    """Everything cut, and the valve's rim, at the largest scale that the width has room for."""
    radii = [point[0] for point in section.surface]
    depths = [point[1] for point in section.surface]
    across, deep = max(radii) - min(radii), max(depths)
    span = max(across, 0.5 * deep)
    left = min([*radii, *([section.throat] if section.throat is not None else [])]) - 0.3 * span
    right = max([*radii, *(point[0] for point in section.valve)]) + 0.25 * span
    top = min([0.0, *(point[1] for point in section.valve if point[0] > left)]) - 0.12 * span
    bottom = deep + 0.35 * max(deep, 0.5 * span)
    scale = min(width / (right - left), TALLEST * width / (bottom - top))
    return _Frame(left, top, right, bottom, scale)


def _metal(section: SeatSection, frame: _Frame) -> Iterator[Mark]:
    last = section.surface[-1]
    wall = section.throat if section.throat is not None else last[0]
    corners = [
        *section.surface,
        (wall, frame.bottom),
        (frame.right, frame.bottom),
        (frame.right, section.surface[0][1]),
    ]
    yield Area(tuple(map(frame.at, corners)), METAL)
    if section.throat is not None:
        ends = (section.throat, last[1]), (section.throat, frame.bottom)
        yield Stroke(tuple(map(frame.at, ends)), INK, 1.0, (4.0, 3.0), part="leader")


def _valve(section: SeatSection, frame: _Frame, size: float) -> Iterator[Mark]:
    if not section.valve:
        return
    points = _from_left(section.valve, frame.left)
    if len(points) > 2:
        yield Area(tuple(map(frame.at, points)), "#ffffff")
    yield Stroke(tuple(map(frame.at, points)), INK, 0.1 * size, part="axis")


def _from_left(valve: Sequence[Point], left: float) -> list[Point]:
    """The valve's outline cut off at the left edge of the drawing."""
    (inside, deep), edge, *rest = valve
    slope = (deep - edge[1]) / (inside - edge[0])
    start = (left, edge[1] + slope * (left - edge[0]))
    return [start, edge, *((max(point[0], left), point[1]) for point in rest)]


def _surface(section: SeatSection, frame: _Frame, size: float) -> Iterator[Mark]:
    first = section.surface[0]
    floor = (frame.right, first[1]), first
    yield Stroke(tuple(map(frame.at, floor)), INK, 0.07 * size, part="axis")
    yield Stroke(tuple(map(frame.at, section.surface)), INK, 0.13 * size)
    for face in section.faces:
        if face.is_contact:
            ends = tuple(map(frame.at, (face.outer, face.inner)))
            yield Stroke(ends, INK, 0.42 * size)
        for end in (face.outer, face.inner):
            yield Sign(frame.at(end), "circle", INK, False, 0.17 * size)


def _spread(wanted: Sequence[float], room: float, first: float) -> list[float]:
    """Heights as near to those wanted as labels of this height can be without overlapping.

    >>> _spread([10.0, 12.0, 60.0], 20.0, 14.0)
    [14.0, 34.0, 60.0]
    """
    heights: list[float] = []
    for height in wanted:
        heights.append(max(height, heights[-1] + room if heights else first))
    return heights


def _label(
    face: SectionFace, frame: _Frame, elbows: tuple[float, float], y: float, size: float
) -> Iterator[Mark]:
    """A cut's label, and the leader to it: level through the metal, then aslant to its line."""
    middle = frame.at(_middle(face))
    points = middle, (elbows[0], middle[1]), (elbows[1], y)
    yield Stroke(points, SOFT, 0.06 * size, part="leader")
    x = elbows[1] + 0.3 * size
    yield Words((x, y - 0.15 * size), face.label, size, INK, bold=True)
    yield Words((x, y + (LINE - 0.15) * size), face.width, size, INK)


def _bar(section: SeatSection, frame: _Frame, height: float, size: float) -> Iterator[Mark]:
    """A bar of a round length, which says the scale."""
    wanted = 6.5 * size / frame.scale
    power = 10.0 ** math.floor(math.log10(wanted))
    length = max(step * power for step in NICE if step * power <= wanted)
    y = height + 0.9 * size
    ends = [(0.2 * size, y), (0.2 * size + length * frame.scale, y)]
    yield Stroke((ends[0], ends[1]), INK, 0.1 * size, part="axis")
    for x, _ in ends:
        yield Stroke(((x, y - 0.3 * size), (x, y + 0.3 * size)), INK, 0.1 * size, part="axis")
    words = f"{length:g} {section.unit}"
    yield Words((ends[1][0] + 0.6 * size, y + 0.33 * size), words, size, INK)


def _legend(
    section: SeatSection, width: float, top: float, size: float
) -> tuple[list[Mark], float]:
    """A sample of each part with its name, and where that ends."""
    marks: list[Mark] = []
    x, y = 0.0, top
    for part, words in section.names:
        room = fonts.width(words, size) + 3.4 * size
        if x and x + room > width:
            x, y = 0.0, y + 1.35 * LINE * size
        marks += [*_sample(part, x, y - 0.33 * size, size), Words((x + 2.2 * size, y), words, size,
                  INK)]  # fmt: skip
        x += room
    return marks, y + 0.6 * size


def _sample(part: str, x: float, y: float, size: float) -> Iterator[Mark]:
    right, half = x + 1.7 * size, 0.42 * size
    box = (x, y - half), (right, y - half), (right, y + half), (x, y + half)
    if part == "metal":
        yield Area(box, METAL)
        yield Stroke((box[0], box[1]), INK, 0.13 * size)
    elif part == "contact":
        yield Stroke(((x, y), (right, y)), INK, 0.42 * size)
    elif part == "valve":
        yield Stroke((*box, box[0]), INK, 0.1 * size, part="axis")
    else:
        yield Stroke(((x, y), (right, y)), INK, 1.0, (4.0, 3.0), part="leader")
