"""A map of a head's ports by gain: a sign, the gain in figures, and colour beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from statistics import fmean

from shopflow import fonts
from shopflow.charts.head_map import Bores
from shopflow.charts.look import INK, SCREEN_TYPE, SOFT
from shopflow.charts.marks import Drawing, Reading, Shape, Sign, Words

LEAST = 0.005
"""Share below which a gain is shown as none: half of a percent. Common practice, no source."""

LOOKS: dict[str, tuple[Shape, str, bool]] = {
    "gain": ("triangle", "#0072b2", True),
    "loss": ("wedge", "#d55e00", True),
    "same": ("square", INK, False),
    "one test": ("circle", SOFT, True),
    "not tested": ("circle", SOFT, False),
}
"""Form, colour and filling of the mark of each state."""


@dataclass(frozen=True)
class PortSpot:
    """A port: its name, which cylinders share it from 0, its side, its tests and gain."""

    label: str
    cylinders: tuple[int, ...]
    side: str
    tests: int
    gain: float | None

    @property
    def state(self) -> str:
        """State of the port, a key of LOOKS."""
        if self.gain is None:
            return "one test" if self.tests else "not tested"
        if abs(self.gain) < LEAST:
            return "same"
        return "gain" if self.gain > 0 else "loss"

    @property
    def words(self) -> str:
        """Its gain in figures with its sign, as "+6.2 %"; empty where there is none."""
        if self.gain is None:
            return ""
        return f"{100 * self.gain:+.1f} %".replace("-", "−")


@dataclass(frozen=True)
class GainMap:
    """A head's ports seen from its deck, the front at the left."""

    title: str
    cylinders: Sequence[str]
    ports: Sequence[PortSpot]
    names: Mapping[str, str]
    """Name of each state, in the reader's language."""

    @property
    def description(self) -> str:
        """The map in words, for whoever cannot see it."""
        return "; ".join(self.described(spot) for spot in self.ports)

    def described(self, spot: PortSpot) -> str:
        """A port in words."""
        return f"{spot.label}: {spot.words or self.names[spot.state].lower()}"


def layout_gain_map(plan: GainMap, width: float = 760.0, size: float = SCREEN_TYPE) -> Drawing:
    """Lay a map out on a sheet of this width; its height follows from its cylinders."""
    bores = Bores.on(plan.cylinders, width, size)
    marks = list(bores.marks(0.5))
    for number, spot in enumerate(plan.ports):
        marks += _port(spot, plan.described(spot), number, bores)
    legend = list(_legend(plan.names, bores.width, bores.bottom + 1.9 * size, size))
    bottom = max(mark.at[1] for mark in legend) + 0.8 * size
    return Drawing(bores.width, bottom, plan.title, plan.description, (*marks, *legend))


def _port(spot: PortSpot, words: str, number: int, bores: Bores) -> Iterator[Sign | Words]:
    """A port's sign at the rim of its bore, and its gain between the sign and the number.

    A port of several cylinders stands between them; in each row, where they are in two.
    """
    shape, colour, filled = LOOKS[spot.state]
    up = -1 if spot.side == "intake" else 1
    reading = Reading(spot.label, float(number), spot.gain or 0.0, None, words)
    size, radius = bores.size, bores.radius
    for middle, centres in groupby(map(bores.centre, spot.cylinders), itemgetter(1)):
        x = fmean(across for across, _ in centres)
        yield Sign((x, middle + up * 0.74 * radius), shape, colour, filled, 0.42 * size, reading)
        if spot.words:
            y = middle + up * 0.4 * radius + 0.33 * size
            yield Words((x, y), spot.words, size, INK, "middle")


def _legend(
    names: Mapping[str, str], width: float, top: float, size: float
) -> Iterator[Sign | Words]:
    x, y = 0.8 * size, top
    for state, (shape, colour, filled) in LOOKS.items():
        words = names[state]
        room = fonts.width(words, size) + 3.2 * size
        if x > size and x + room > width:
            x, y = 0.8 * size, y + 1.7 * size
        yield Sign((x, y - 0.33 * size), shape, colour, filled, 0.42 * size)
        yield Words((x + 1.1 * size, y), words, size, INK)
        x += room
