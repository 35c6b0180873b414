"""Cost of an attached part: its own effective area, from a port tested with it and without it."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log, sqrt

from shopflow.calc.brought import Brought, bring
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import ATTACHED, NONE, Part, unlike_parts


@dataclass(frozen=True, slots=True)
class PartAt:
    """An attached part at one lift of the valve; areas in m2."""

    lift: float
    bare: float
    """Effective area of the port alone."""

    dressed: float
    """With the part attached."""

    own: float | None
    """Of the part by itself; None where the two tests do not show that it costs anything."""

    low: float | None
    """Least area of the part that agrees with the tests at 95 %; None where none can be told."""

    high: float | None
    """The greatest; None where none can be told."""

    @property
    def loss(self) -> float:
        """Share of the port's area that the part takes."""
        return 1.0 - self.dressed / self.bare


@dataclass(frozen=True)
class PartCost:
    """Cost of the one attached part that only one of two tests has."""

    part: Part
    text: str
    """The part as the test with it states it."""

    points: tuple[PartAt, ...]
    """At the lifts of the later test inside the range both cover."""


def own_area(bare: float, dressed: float) -> float:
    r"""Area of a part that stands in series with a port.

    .. math:: 1/A^2 = 1/A_1^2 + 1/A_2^2, \quad A_2 = (1/A^2 - 1/A_1^2)^{-1/2}

    Parameters
    ----------
    bare : effective area of the port alone, A1, m2
    dressed : of both together, A, below `bare`, m2

    Notes
    -----
    Two restrictions one after another, each losing the whole of its velocity pressure, in flow of
    nearly constant density. A part that guides the jet of the next, or recovers some pressure,
    comes out too large. Source: areas in series as for leakage paths in smoke control, Klote and
    Milke, Principles of Smoke Management (from memory).

    Examples
    --------
    Two equal areas in series pass as much as one of 1/√2 of them:

    >>> round(own_area(1.0, sqrt(0.5)), 12)
    1.0
    """
    return 1.0 / sqrt(dressed**-2 - bare**-2)


def part_cost(first: Reduction, other: Reduction) -> PartCost | None:
    """The own area of the attached part that one of two tests has and the other has not.

    Parameters
    ----------
    first, other : tests of one port, nothing cut between them

    Returns
    -------
    PartCost; None where their set-ups differ in anything but one attached part, or no range of
    lift is common to them

    Notes
    -----
    The limits of the part's area are those of the ratio of the two tests, carried through the
    formula, and of the port's own area, as the root of the sum of squares of their logarithms.
    """
    differing = unlike_parts(first.test.set_up, other.test.set_up)
    if len(differing) != 1 or differing[0].part not in ATTACHED:
        return None
    (item,) = differing
    if NONE not in (item.first, item.other) or item.is_half_stated:
        return None
    brought = bring([first, other])
    if brought is None or not brought.is_one_side:
        return None
    is_first_bare = item.first == NONE
    points = tuple(_at(brought, index, 0 if is_first_bare else 1) for index in brought.at_lifts)
    return PartCost(item.part, item.other if is_first_bare else item.first, points)


def _at(brought: Brought, index: int, bare: int) -> PartAt:
    alone, both = brought.estimates[bare], brought.estimates[1 - bare]
    ratio = both / alone
    area, dressed = float(alone.values[index]), float(both.values[index])
    share, margin = dressed / area, float(ratio.expanded[index])
    of_port = float(alone.expanded[index])
    low = high = None
    if brought.is_known:
        low = _limit(area, share, share * exp(-margin), -of_port)
        high = _limit(area, share, share * exp(margin), of_port)
    is_shown = high is not None if brought.is_known else share < 1.0
    own = own_area(area, dressed) if is_shown and share < 1.0 else None
    return PartAt(brought.places[index][0], area, dressed, own, low, high)


def _limit(area: float, share: float, at: float, of_port: float) -> float | None:
    """The part's area at a limit of the share that it leaves; None where that is all of it."""
    if at >= 1.0:
        return None
    limit = own_area(area, area * at)
    if share >= 1.0:
        return limit * exp(of_port)
    own = own_area(area, area * share)
    offset = hypot(log(limit / own), of_port)
    return own * exp(offset if of_port > 0.0 or limit > own else -offset)
