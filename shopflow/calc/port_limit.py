"""Narrowest place on the way through a port, by lift: geometry, and a tested statement of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.cam import ValveMotion
from shopflow.calc.cam_gain import lifts_over_cam
from shopflow.calc.port_way import CHANGE, Passage, PortPlace, Way, valve_area
from shopflow.calc.uncertainty import COVERAGE_FACTOR

STEPS = 400
"""Steps of lift that a mean is taken over."""

HALVINGS = 60
"""Of a range of lift: more than a double holds."""


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

    >>> from shopflow.calc.areas import Seat, Valve
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
        is_above = float(valve_area(PortPlace.OPENING, way.valve, np.array([middle]))[0]) > area
        low, high = (low, middle) if is_above else (middle, high)
    lift = (low + high) / 2.0
    there = way.passages(np.array([lift]))
    own, other = there[0].relative, there[behind].relative
    if own is None or other is None:
        return Crossing(lift, None, behind)
    step = CHANGE * lift
    above, below = np.log(
        valve_area(PortPlace.OPENING, way.valve, np.array([lift + step, lift - step]))
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

    >>> from shopflow.calc.areas import Seat, Valve
    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> from shopflow.calc.port_way import Section
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
