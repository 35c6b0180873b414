"""The marks a drawing is made of. Points are from the top left, y downwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    points: tuple[Point, ...]
    colour: str
    width: float
    dashed: bool = False
    part: Literal["grid", "axis", "curve", "bar", "leader"] = "curve"


@dataclass(frozen=True)
class Sign:
    """A point's mark: what it stands for is in `words`, for whoever reads it out."""

    at: Point
    shape: Literal["circle", "square", "triangle", "diamond"]
    colour: str
    filled: bool
    words: str
    size: float = 3.0

    @property
    def outline(self) -> list[Point]:
        """Corners of a mark that is no circle."""
        (x, y), size = self.at, self.size
        if self.shape == "square":
            left, right, top, bottom = x - size, x + size, y - size, y + size
            return [(left, top), (right, top), (right, bottom), (left, bottom)]
        if self.shape == "triangle":
            return [(x, y - size * 1.3), (x + size * 1.2, y + size), (x - size * 1.2, y + size)]
        reach = size * 1.4
        return [(x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)]


@dataclass(frozen=True)
class Words:
    """A line of text; `at` is on its base line."""

    at: Point
    text: str
    size: float
    colour: str
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False


Mark = Stroke | Sign | Words


@dataclass(frozen=True)
class Drawing:
    """Marks on a sheet of a size in points."""

    width: float
    height: float
    title: str
    description: str
    marks: tuple[Mark, ...]
