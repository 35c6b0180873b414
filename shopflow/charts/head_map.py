"""A map of a head: a plan of its cylinders and valves, each place marked by how it stands.

How a place stands is told by the form of its mark, and by colour beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from shopflow import fonts
from shopflow.charts.look import GRID, INK, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Drawing, Mark, Reading, Shape, Sign, Stroke, Words
from shopflow.texts import gettext, lazy

State = Literal["missing", "in", "out", "doubtful", "no limit", "watch"]

Looks = Mapping[State, tuple[str, Shape, str, bool]]
"""Name of each state, and the form, colour and filling of its mark."""

LOOKS: Looks = {
    "missing": (lazy("Missing"), "circle", SOFT, False),
    "in": (lazy("Within limits"), "circle", "#0072b2", True),
    "out": (lazy("Outside limits"), "diamond", "#d55e00", True),
    "doubtful": (lazy("Doubtful"), "triangle", "#d55e00", False),
    "no limit": (lazy("No limit"), "square", "#0072b2", False),
}
"""Of measurements against their limits."""

RESULTS: Looks = {
    "missing": (lazy("Not tested"), "circle", SOFT, False),
    "in": (lazy("Passed"), "circle", "#0072b2", True),
    "watch": (lazy("Watch"), "square", "#0072b2", False),
    "out": (lazy("Failed or repairable"), "diamond", "#d55e00", True),
}
"""Of pressure, vacuum, leak and crack tests."""

LEAST_PITCH = 5.8
"""Least distance of bores, in heights of letters: two gains and a number stand in one."""

ROUND = 40
"""Straight lines that a bore is drawn with."""


@dataclass(frozen=True)
class Spot:
    """A place on the map: which cylinder from 0, on which side, which valve of how many there."""

    label: str
    cylinder: int
    side: str
    """"intake", "exhaust", or empty for the cylinder itself."""

    valve: int
    valves: int
    state: State
    words: str = ""
    """Values measured there, as "1.805 in"."""

    def description(self, looks: Looks) -> str:
        """The spot in words."""
        return f"{self.label}: {self.words or looks[self.state][0].lower()}"


@dataclass(frozen=True)
class HeadMap:
    """A head seen from its deck, the front at the left."""

    title: str
    cylinders: Sequence[str]
    spots: Sequence[Spot]
    looks: Looks = field(default_factory=lambda: LOOKS)

    @property
    def description(self) -> str:
        """The map in words, for whoever cannot see it: how many stand how, and which are out."""
        counts = [
            f"{sum(spot.state == state for spot in self.spots)} {name.lower()}"
            for state, (name, *_) in self.looks.items()
        ]
        out = [spot.description(self.looks) for spot in self.spots if spot.state == "out"]
        name = self.looks["out"][0]
        named = gettext(" {state}: {places}.", state=name, places="; ".join(out)) if out else ""
        return f"{', '.join(counts)}.{named}"


@dataclass(frozen=True)
class Bores:
    """A head's bores on a sheet, the front at the left: in rows, where one is too wide for it."""

    names: Sequence[str]
    width: float
    left: float
    """Room for the names of the sides."""

    per_row: int
    pitch: float
    size: float
    """Height of letters."""

    @classmethod
    def on(cls, names: Sequence[str], width: float, size: float) -> Bores:
        """Bores on a sheet of this width, each as large as its words need."""
        count = max(len(names), 1)
        left = fonts.width(gettext("Exhaust"), size) + 1.2 * size
        fitting = max(int((width - left) / (LEAST_PITCH * size)), 1)
        per_row = math.ceil(count / math.ceil(count / fitting))
        pitch = min((width - left) / per_row, 9 * size)
        return cls(
            names, max(left + per_row * pitch, min(width, 28 * size)), left, per_row, pitch, size
        )

    @property
    def radius(self) -> float:
        """Radius of a bore."""
        return 0.46 * self.pitch

    @property
    def bottom(self) -> float:
        """Lower edge of the last row."""
        return self.middle(len(self.names) - 1) + self.radius

    def middle(self, index: int) -> float:
        """Height of the row that a bore is in."""
        row = max(index, 0) // self.per_row
        return 0.6 * self.size + self.radius + row * (self.pitch + 0.5 * self.size)

    def centre(self, index: int) -> tuple[float, float]:
        """Middle of a bore, counted from 0."""
        across = index % self.per_row + 0.5
        return self.left + across * self.pitch, self.middle(index)

    def marks(self, apart: float) -> Iterator[Mark]:
        """Circles with their names, and the sides; `apart` of a radius from the middle."""
        size = self.size
        for index, name in enumerate(self.names):
            x, middle = self.centre(index)
            yield Stroke(circle((x, middle), self.radius), GRID, 0.14 * size, part="grid")
            yield Words((x, middle + 0.33 * size), name, size, INK, "middle", True)
        for index in range(0, len(self.names), self.per_row):
            for side, up in ((gettext("Intake"), -apart), (gettext("Exhaust"), apart)):
                y = self.middle(index) + up * self.radius
                yield Words((0.0, y + 0.33 * size), side, size, SOFT)


def layout_head_map(plan: HeadMap, width: float = 760.0, size: float = SCREEN_TYPE) -> Drawing:
    """Lay a map out on a sheet of this width; its height follows from its cylinders."""
    bores = Bores.on(plan.cylinders, width, size)
    marks = list(bores.marks(0.45))
    for number, spot in enumerate(plan.spots):
        marks.append(_spot(spot, number, bores.centre(spot.cylinder), bores.radius, plan.looks))
    legend, bottom = _legend(bores.width, bores.bottom + 1.9 * size, size, plan.looks)
    return Drawing(bores.width, bottom, plan.title, plan.description, (*marks, *legend))


def _spot(
    spot: Spot, number: int, centre: tuple[float, float], radius: float, looks: Looks
) -> Sign:
    _, shape, colour, filled = looks[spot.state]
    apart = 0.8 * radius / max(spot.valves, 1)
    across = (spot.valve - (spot.valves + 1) / 2) * apart if spot.side else 0.5 * radius
    down = {"intake": -0.45, "exhaust": 0.45}.get(spot.side, 0.0) * radius
    reading = Reading(spot.label, float(number), 0.0, None, spot.description(looks))
    at = (centre[0] + across, centre[1] + down)
    mark = min(0.17 * radius, 0.36 * apart)
    return Sign(at, shape, colour, filled, mark, reading)


def circle(centre: tuple[float, float], radius: float) -> tuple[tuple[float, float], ...]:
    """Points of a circle, drawn with straight lines."""
    angles = [2 * math.pi * step / ROUND for step in range(ROUND + 1)]
    x, y = centre
    return tuple((x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles)


def _legend(width: float, top: float, size: float, looks: Looks) -> tuple[list[Mark], float]:
    """A sample of each mark with its name, and where that ends."""
    marks: list[Mark] = list(_samples(width, top, size, looks))
    bottom = max(mark.at[1] for mark in marks if isinstance(mark, Words))
    return marks, bottom + 0.8 * size


def _samples(width: float, top: float, size: float, looks: Looks) -> Iterator[Sign | Words]:
    x, y = 0.5 * size, top
    for name, shape, colour, filled in looks.values():
        room = fonts.width(name, size) + 3.2 * size
        if x > size and x + room > width:
            x, y = 0.5 * size, y + 1.7 * size
        yield Sign((x, y - 0.33 * size), shape, colour, filled, 0.42 * size)
        yield Words((x + 1.1 * size, y), name, size, INK)
        x += room
