"""Narrowest place on the way through a port, by lift: geometry, and a tested statement of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from shopflow.calc.areas import Valve, port_area_at_stem, seat_opening_area
from shopflow.calc.array_types import Floats
from shopflow.calc.cam import ValveMotion
from shopflow.calc.cam_gain import lifts_over_cam
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.calc.valve_sizes import size, with_size
from shopflow.texts import gettext

CHANGE = 1e-6
"""Relative change of a size by which its effect is found, by central differences."""

STEPS = 400
"""Steps of lift that a mean is taken over."""

HALVINGS = 60
"""Of a range of lift: more than a double holds."""


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
        areas = _valve_area(place, self.valve, lifts)
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
            np.log(_valve_area(place, with_size(self.valve, name, now + by), lifts))
            for by in (step, -step)
        )
        return np.asarray((above - below) / (2.0 * step))


@dataclass(frozen=True)
class Limit:
    """The narrowest place at one lift, set against every other."""

    lift: float
    areas: tuple[float, ...]
    """Of every place on the way, m2."""

    tightest: int
    """Index of the least of them."""

    rivals: tuple[int, ...]
    """Others that are not shown to be wider."""

    untested: tuple[int, ...]
    """Others that cannot be tested against it: an uncertainty is not stated."""

    @property
    def area(self) -> float:
        """The least area, m2."""
        return self.areas[self.tightest]

    @property
    def is_shown(self) -> bool:
        """True where the tightest is shown to be so against every other."""
        return not self.rivals and not self.untested


def limits(way: Way, lifts: Sequence[float]) -> tuple[Limit, ...]:
    r"""The narrowest place at each lift, each other place tested against it.

    Another place B is shown to be wider than the tightest A where

    .. math:: \ln(B/A) > 2 \sqrt{u_A^2 + u_B^2}

    with u the relative standard uncertainties; the sizes of two places are measured apart.

    Parameters
    ----------
    way : the way through a port
    lifts : above 0, m

    Returns
    -------
    a Limit for each lift

    Notes
    -----
    That A was picked because it came out least does not raise the error of the statement above
    the 5 % of two sides (k = 2): S. Gutmann and Z. Maymin, "Is the selected population the
    best?", Ann. Statist. 15 (1987) 456 (from memory). Simulated in
    tests/simulation/test_port_limit.py.
    """
    passages = way.passages(np.asarray(lifts))
    return tuple(_limit(passages, at, float(lift)) for at, lift in enumerate(lifts))


def _limit(passages: Sequence[Passage], at: int, lift: float) -> Limit:
    areas = tuple(float(passage.areas[at]) for passage in passages)
    tightest = int(np.argmin(areas))
    rivals, untested = [], []
    for index, passage in enumerate(passages):
        own = passages[tightest].relative
        if index == tightest:
            continue
        if own is None or passage.relative is None:
            untested.append(index)
        elif not _is_wider(areas[index] / areas[tightest], own[at], passage.relative[at]):
            rivals.append(index)
    return Limit(lift, areas, tightest, tuple(rivals), tuple(untested))


def _is_wider(ratio: float, first: float, second: float) -> bool:
    return bool(np.log(ratio) > COVERAGE_FACTOR * np.hypot(first, second))


@dataclass(frozen=True, slots=True)
class Crossing:
    """The lift above which the valve is no longer the narrowest place."""

    lift: float
    """m."""

    expanded_uncertainty: float | None
    """k = 2, m; None where a size states none."""

    passage: int
    """Index of the place that is narrowest from there on."""


def crossing(way: Way, highest: float) -> Crossing | None:
    r"""Find the lift at which the opening has the area of the least place behind it.

    .. math:: u(L) = \sqrt{u_o^2 + u_p^2} \big/ \frac{d \ln A_o}{dL}

    Parameters
    ----------
    way : the way through a port
    highest : lift up to which it is looked for, m

    Returns
    -------
    Crossing; None where the opening stays the narrowest up to that lift

    Examples
    --------
    D 44, w 1.5 (projected), 45 degrees: L2 of a throat of 39 and a stem of 7 is 10.02791 mm:

    >>> from shopflow.calc.areas import Seat
    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> round(crossing(Way(Valve(0.044, seat=seat), {}), 0.015).lift * 1e3, 5)
    10.02791
    """
    top = way.passages(np.array([highest]))
    behind = min(range(1, len(top)), key=lambda index: float(top[index].areas[0]))
    area = float(top[behind].areas[0])
    if float(top[0].areas[0]) <= area:
        return None
    low, high = 0.0, highest
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        is_above = float(_valve_area(PortPlace.OPENING, way.valve, np.array([middle]))[0]) > area
        low, high = (low, middle) if is_above else (middle, high)
    lift = (low + high) / 2.0
    there = way.passages(np.array([lift]))
    own, other = there[0].relative, there[behind].relative
    if own is None or other is None:
        return Crossing(lift, None, behind)
    step = CHANGE * lift
    above, below = np.log(
        _valve_area(PortPlace.OPENING, way.valve, np.array([lift + step, lift - step]))
    )
    slope = float(above - below) / (2.0 * step)
    doubt = COVERAGE_FACTOR * float(np.hypot(own[0], other[0])) / slope
    return Crossing(lift, doubt, behind)


def changes_at(before: Way, after: Way, lifts: Sequence[float]) -> tuple[float, ...]:
    """Relative change in the least area along the way at each lift.

    Parameters
    ----------
    before, after : the way as it is, and as it would be
    lifts : above 0, m

    Examples
    --------
    A section opened by a tenth, where it is the narrowest at one lift of two:

    >>> from shopflow.calc.areas import Seat
    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> valve = Valve(0.044, seat=seat)
    >>> ways = [Way(valve, {}, (Section(area),)) for area in (8e-4, 8.8e-4)]
    >>> [round(change, 6) for change in changes_at(*ways, (0.005, 0.012))]
    [0.0, 0.1]
    """
    row = np.asarray(lifts)
    return tuple((after.least(row) / before.least(row) - 1.0).tolist())


def change_over_lift(before: Way, after: Way, highest: float) -> float:
    """Relative change in the mean of the least area over lifts from 0 to a highest one, m."""
    return _change_in_mean(before, after, np.linspace(0.0, highest, STEPS + 1)[1:])


def change_over_cam(before: Way, after: Way, motion: ValveMotion) -> float:
    """Relative change in the mean of the least area over the time that a cam opens the valve."""
    lifts = lifts_over_cam(motion)
    return _change_in_mean(before, after, lifts[lifts > 0.0])


def _change_in_mean(before: Way, after: Way, lifts: Floats) -> float:
    return float(after.least(lifts).mean() / before.least(lifts).mean() - 1.0)


def _valve_area(place: PortPlace, valve: Valve, lifts: Floats) -> Floats:
    """Area of all valves of a port at a place of theirs, m2."""
    seat = valve.seat
    if seat is None:
        raise ValueError(gettext("the seat is not stated"))
    if place is PortPlace.THROAT:
        area = np.asarray(port_area_at_stem(seat.throat_diameter, seat.stem_diameter))
    else:
        area = np.asarray(seat_opening_area(valve.head_diameter, seat, lifts))
    return valve.count * np.broadcast_to(area, lifts.shape)
