"""The way through a port: every place that narrows it, with its area over lift."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from shopflow.calc.areas import Valve, port_area_at_stem, seat_opening_area
from shopflow.calc.array_types import Floats
from shopflow.calc.valve_sizes import size, with_size
from shopflow.texts import gettext

CHANGE = 1e-6
"""Relative change of a size or lift by which its effect is found, by central differences."""


class PortPlace(StrEnum):
    """Kind of place that narrows the way."""

    OPENING = "opening"
    """Between the valve and its seat."""

    THROAT = "throat"
    """Behind the seat, less the stem."""

    SECTION = "section"
    """Measured across the port or the manifold's runner."""


OPENING_SIZES = ("head_diameter", "seat_angle", "seat_width")
THROAT_SIZES = ("throat_diameter", "stem_diameter")


@dataclass(frozen=True)
class Passage:
    """A place on the way: its area over a row of lifts, and how well that is known."""

    place: PortPlace
    areas: Floats
    """m2, at each lift; all valves of the port together."""

    relative: Floats | None
    """Relative standard uncertainty at each lift; None where one of its sizes states none."""

    unstated: tuple[str, ...] = ()
    """Sizes whose uncertainty is not stated."""

    section: int | None = None
    """Index among the sections."""


@dataclass(frozen=True, slots=True)
class Section:
    """A measured section: its area, m2, and standard uncertainty, m2; None where not stated."""

    area: float
    standard: float | None = None


@dataclass(frozen=True)
class Way:
    """The way through a port: valves with their seat, then the sections measured along it."""

    valve: Valve
    """With its seat."""

    standard: Mapping[str, float | None]
    """Standard uncertainty of each size of valve and seat, m or rad; None where not stated."""

    sections: tuple[Section, ...] = ()

    def passages(self, lifts: Floats) -> list[Passage]:
        """Every place on the way at these lifts: opening, throat, then the sections in order.

        Parameters
        ----------
        lifts : above 0, m
        """
        lifts = np.asarray(lifts, dtype=float)
        return [
            self._valve_place(PortPlace.OPENING, OPENING_SIZES, lifts),
            self._valve_place(PortPlace.THROAT, THROAT_SIZES, lifts),
            *(
                Passage(
                    PortPlace.SECTION,
                    np.full(len(lifts), section.area),
                    None
                    if section.standard is None
                    else np.full(len(lifts), section.standard / section.area),
                    () if section.standard is not None else ("port_area",),
                    index,
                )
                for index, section in enumerate(self.sections)
            ),
        ]

    def over(self, lifts: Sequence[float]) -> list[Passage]:
        """`passages` of plain numbers."""
        return self.passages(np.asarray(lifts))

    def least(self, lifts: Floats) -> Floats:
        """Least area along the way at these lifts, m2.

        Examples
        --------
        Two sections, the second tighter than the throat of 1156.1 mm2:

        >>> from shopflow.calc.areas import Seat
        >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
        >>> way = Way(Valve(0.044, seat=seat), {}, (Section(12e-4), Section(8e-4)))
        >>> (way.least(np.array([0.005, 0.012])) * 1e6).round(1).tolist()
        [508.4, 800.0]
        """
        return np.asarray(np.min([passage.areas for passage in self.passages(lifts)], axis=0))

    @property
    def unstated(self) -> tuple[str, ...]:
        """Sizes whose uncertainty is not stated, each once."""
        passages = self.passages(np.array([self.valve.head_diameter / 4.0]))
        return tuple(dict.fromkeys(name for passage in passages for name in passage.unstated))

    def _valve_place(self, place: PortPlace, sizes: Sequence[str], lifts: Floats) -> Passage:
        unstated = tuple(name for name in sizes if self.standard.get(name) is None)
        areas = valve_area(place, self.valve, lifts)
        if unstated:
            return Passage(place, areas, None, unstated)
        squares = np.zeros(len(lifts))
        for name in sizes:
            squares += (self._effect(place, name, lifts) * (self.standard[name] or 0.0)) ** 2
        return Passage(place, areas, np.sqrt(squares))

    def _effect(self, place: PortPlace, name: str, lifts: Floats) -> Floats:
        """Relative change of an area with a size, per m or rad."""
        now = size(self.valve, name)
        step = CHANGE * now
        above, below = (
            np.log(valve_area(place, with_size(self.valve, name, now + by), lifts))
            for by in (step, -step)
        )
        return np.asarray((above - below) / (2.0 * step))


def valve_area(place: PortPlace, valve: Valve, lifts: Floats) -> Floats:
    """Area of all valves of a port at a place of theirs, m2."""
    seat = valve.seat
    if seat is None:
        raise ValueError(gettext("the seat is not stated"))
    if place is PortPlace.THROAT:
        area = np.asarray(port_area_at_stem(seat.throat_diameter, seat.stem_diameter))
    else:
        area = np.asarray(seat_opening_area(valve.head_diameter, seat, lifts))
    return valve.count * np.broadcast_to(area, lifts.shape)
