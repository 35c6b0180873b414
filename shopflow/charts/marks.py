"""The marks a drawing is made of. Points are from the top left, y downwards."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Shape = Literal[
    "circle", "square", "triangle", "diamond", "wedge", "hourglass", "cross", "star"
]  # fmt: skip


def _around(count: int, radii: tuple[float, ...], turn: float = 0.0) -> tuple[Point, ...]:
    """Corners at equal angles from the top, clockwise, their distances taken in turn."""
    angles = [turn + 2 * math.pi * index / count for index in range(count)]
    lengths = [radii[index % len(radii)] for index in range(count)]
    return tuple(
        (length * math.sin(angle), -length * math.cos(angle))
        for angle, length in zip(angles, lengths, strict=True)
    )


_A, _B = 0.42, 1.12
OUTLINES: dict[Shape, tuple[Point, ...]] = {
    "square": _around(4, (1.27,), math.pi / 4),
    "triangle": _around(3, (1.4,)),
    "diamond": _around(4, (1.4,)),
    "wedge": _around(3, (1.4,), math.pi),
    "hourglass": ((-1.2, -1.25), (1.2, -1.25), (0.18, 0), (1.2, 1.25), (-1.2, 1.25), (-0.18, 0)),
    "cross": (
        (-_A, -_B), (_A, -_B), (_A, -_A), (_B, -_A), (_B, _A), (_A, _A),
        (_A, _B), (-_A, _B), (-_A, _A), (-_B, _A), (-_B, -_A), (-_A, -_A),
    ),
    "star": _around(10, (1.55, 0.68)),
}  # fmt: skip
"""Corners of each shape but the circle, about as large to the eye as a circle of radius 1."""


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    points: tuple[Point, ...]
    colour: str
    width: float
    dash: tuple[float, ...] = ()
    """Lengths of line and gap in turn; none for a solid line."""

    part: Literal["grid", "axis", "curve", "bar", "leader", "extreme", "level"] = "curve"


@dataclass(frozen=True)
class Area:
    """A filled shape with these corners."""

    corners: tuple[Point, ...]
    colour: str


@dataclass(frozen=True)
class Reading:
    """Values at a point: its curve, its position on both axes, the half-length of its bar."""

    series: str
    x: float
    y: float
    error: float | None
    words: str
    curve: int = 0
    """Number of its curve in the chart, counted from 0."""

    link: str = ""
    """The address it leads to on screen."""


@dataclass(frozen=True)
class Sign:
    """A point's mark. One without a reading is a sample beside a curve's name."""

    at: Point
    shape: Shape
    colour: str
    filled: bool
    size: float
    reading: Reading | None = None

    @property
    def outline(self) -> list[Point]:
        """Corners of a mark that is no circle."""
        x, y = self.at
        return [(x + self.size * dx, y + self.size * dy) for dx, dy in OUTLINES[self.shape]]


@dataclass(frozen=True)
class Words:
    """A line of text; `at` is on its base line."""

    at: Point
    text: str
    size: float
    colour: str
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False


@dataclass(frozen=True)
class Block:
    """A bar's rectangle: left, top, right, bottom. A hollow one is white with a coloured edge."""

    box: tuple[float, float, float, float]
    colour: str
    filled: bool = True
    words: str = ""
    """Description of its value; one without words is a sample beside a name."""


Mark = Area | Block | Stroke | Sign | Words


@dataclass(frozen=True)
class Drawing:
    """Marks on a sheet of a size in points, the first lying lowest."""

    width: float
    height: float
    title: str
    description: str
    marks: tuple[Mark, ...]
