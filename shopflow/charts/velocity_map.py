"""A section seen along the flow, to scale: a field for each place, the darker the faster.

Each field has its velocity written in it where there is room, so that nothing hangs on color alone;
the mark in it reads it out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, pi, sin

from shopflow import fonts
from shopflow.charts.look import INK, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Area, Drawing, Mark, Point, Reading, Sign, Stroke, Words

LIGHT, DARK = (0xE8, 0xF1, 0xF8), (0x00, 0x4A, 0x77)
"""Colors of the slowest and the fastest field."""

TALLEST = 0.7
"""Height of the section in the drawing at most, by its width."""

CURVE_STEPS = 12
"""Straight pieces of a field's side."""

LINE = 1.3
WHITE = "#ffffff"
STEPS_OF_SCALE = 5


@dataclass(frozen=True)
class Field:
    """One place of the section: its limits, its value and what it says."""

    turn: tuple[float, float]
    """Directions it reaches over, rad counterclockwise from the right."""

    reach: tuple[float, float]
    """Shares of the way from the middle to the wall."""

    at: tuple[float, float]
    """Place of the reading, from the middle."""

    value: float
    words: str


@dataclass(frozen=True)
class VelocityMap:
    """A section's fields, and the outline that limits them."""

    title: str
    description: str
    width: float
    height: float
    is_rectangle: bool
    unit: str
    fields: Sequence[Field]
    places: int = 0
    """Decimals of a velocity."""

    def wall(self, turn: float) -> float:
        """Distance of the wall from the middle in a direction."""
        across, up = abs(cos(turn)) / (self.width / 2.0), abs(sin(turn)) / (self.height / 2.0)
        return 1.0 / (max(across, up) if self.is_rectangle else (across**2 + up**2) ** 0.5)


@dataclass(frozen=True)
class _Frame:
    middle: Point
    scale: float
    low: float
    high: float

    def at(self, x: float, y: float) -> Point:
        return self.middle[0] + x * self.scale, self.middle[1] - y * self.scale

    def share(self, value: float) -> float:
        """Of the range of values, 0 to 1."""
        return (value - self.low) / (self.high - self.low) if self.high > self.low else 1.0

    def colour(self, value: float) -> str:
        share = self.share(value)
        mixed = (
            round(light + share * (dark - light)) for light, dark in zip(LIGHT, DARK, strict=True)
        )
        return "#" + "".join(f"{part:02x}" for part in mixed)


def layout_velocity_map(
    content: VelocityMap, width: float = 560.0, type_size: float = SCREEN_TYPE
) -> Drawing:
    """Lay a velocity map out on a sheet of this width; its height follows from the section."""
    size = type_size
    scale = min((width - 2.0 * size) / content.width, TALLEST * width / content.height)
    half = content.height * scale / 2.0
    values = [field.value for field in content.fields]
    frame = _Frame((width / 2.0, size + half), scale, min(values), max(values))
    marks: list[Mark] = []
    for field in content.fields:
        marks.append(Area(_corners(content, field, frame), frame.colour(field.value)))
    marks.append(_outline(content, frame, size))
    for field in content.fields:
        marks += _inside(content, field, frame, size)
    legend, end = _scale(content, frame, width, 2.0 * half + 3.2 * size, size)
    return Drawing(width, end, content.title, content.description, (*marks, *legend))


def _corners(content: VelocityMap, field: Field, frame: _Frame) -> tuple[Point, ...]:
    """Out along one side and back along the other, in short straight pieces."""
    first, last = field.turn
    steps = round(CURVE_STEPS * max(1.0, 8.0 * (last - first) / (2.0 * pi)))
    turns = [first + (last - first) * step / steps for step in range(steps + 1)]
    inner, outer = field.reach
    out = [_point(content, turn, outer, frame) for turn in turns]
    back = [_point(content, turn, inner, frame) for turn in reversed(turns)]
    return tuple(out + back)


def _point(content: VelocityMap, turn: float, share: float, frame: _Frame) -> Point:
    length = share * content.wall(turn)
    return frame.at(length * cos(turn), length * sin(turn))


def _outline(content: VelocityMap, frame: _Frame, size: float) -> Stroke:
    steps = 8 * CURVE_STEPS
    turns = [2.0 * pi * step / steps for step in range(steps + 1)]
    points = tuple(_point(content, turn, 1.0, frame) for turn in turns)
    return Stroke(points, INK, 0.13 * size)


def _inside(content: VelocityMap, field: Field, frame: _Frame, size: float) -> Iterator[Mark]:
    """The mark of the reading, and its velocity beside it where the field has room."""
    reading = Reading(content.unit, field.at[0], field.at[1], None, field.words)
    text = f"{field.value:.{content.places}f}"
    ink = WHITE if frame.share(field.value) > 0.5 else INK
    if _room(content, field, frame) < fonts.width(text, size) + 0.3 * size:
        yield Sign(frame.at(*field.at), "circle", ink, True, 0.16 * size, reading)
        return
    x, y = _middle(content, field, frame)
    yield Sign((x, y - 0.55 * size), "circle", ink, True, 0.13 * size, reading)
    yield Words((x, y + 0.6 * size), text, size, ink, "middle")


def _middle(content: VelocityMap, field: Field, frame: _Frame) -> Point:
    """Middle of a field; of the one around the middle of the section, that."""
    if field.turn[1] - field.turn[0] > pi:
        return frame.middle
    return _point(content, sum(field.turn) / 2.0, sum(field.reach) / 2.0, frame)


def _room(content: VelocityMap, field: Field, frame: _Frame) -> float:
    """Width of a field at its reading: the lesser of along and across."""
    middle = sum(field.turn) / 2.0
    wall = content.wall(middle) * frame.scale
    inner, outer = field.reach
    turned = field.turn[1] - field.turn[0]
    across = 2.0 * outer * wall if turned > pi else (inner + outer) / 2.0 * wall * turned
    return min(across, (outer - inner) * wall * (2.0 if turned > pi else 1.0))


def _scale(
    content: VelocityMap, frame: _Frame, width: float, top: float, size: float
) -> tuple[list[Mark], float]:
    """The colors with their velocities below the section."""
    marks: list[Mark] = [Words((0.0, top), content.unit, size, SOFT)]
    room = width / STEPS_OF_SCALE
    for step in range(STEPS_OF_SCALE):
        value = frame.low + (frame.high - frame.low) * step / (STEPS_OF_SCALE - 1)
        left, upper = step * room, top + 0.5 * size
        right, lower = left + room, upper + 0.9 * size
        corners = ((left, upper), (right, upper), (right, lower), (left, lower))
        marks.append(Area(corners, frame.colour(value)))
        text = f"{value:.{content.places}f}"
        marks.append(Words((left + room / 2.0, lower + LINE * size), text, size, INK, "middle"))
    return marks, top + 3.2 * size
