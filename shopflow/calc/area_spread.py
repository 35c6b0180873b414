"""Spread of the effective areas of a head's ports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from math import log, sqrt

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.brought import Brought, Span, bring
from shopflow.calc.estimates import Estimates, mean_of
from shopflow.calc.reduction import Reduction
from shopflow.calc.studentized import range_chance, range_factor_95
from shopflow.calc.verdicts import holm
from shopflow.texts import gettext, gettext_noop


class SpreadVerdict(StrEnum):
    """Verdict on a spread of ports."""

    DIFFER = gettext_noop("the ports differ")
    NO_DIFFERENCE = gettext_noop("no difference shown")
    NOT_STATED = gettext_noop("not stated")


@dataclass(frozen=True, slots=True)
class AreaSpread:
    """Ports side by side at a lift, or in the mean over some; areas in m2."""

    low: float
    high: float
    """Range of lift of a mean, m; at one lift both are that lift."""

    areas: tuple[float, ...]
    """Of each port, in the order given."""

    lowest: int
    highest: int
    """Places of the ports with the least and the largest area."""

    expanded_uncertainty: float | None
    """Of `spread` for 95 %, so that of unlike ports alone any exceeds it; None if not stated."""

    verdict: SpreadVerdict
    uncertainties: tuple[float | None, ...] = ()
    """Of each port over the mean, relative, for 95 % of that port alone; None if not stated."""

    @property
    def lift(self) -> float:
        """The lift, or the first of a mean, m."""
        return self.low

    @property
    def mean(self) -> float:
        """Mean of the ports."""
        return float(np.mean(self.areas))

    @property
    def deviation(self) -> float:
        """Standard deviation of the ports."""
        return float(np.std(self.areas, ddof=1))

    @property
    def from_mean(self) -> tuple[float, ...]:
        """Deviation of each port from the mean, over the mean."""
        return tuple(area / self.mean - 1.0 for area in self.areas)

    @property
    def spread(self) -> float:
        """Largest less least, over the mean."""
        return (self.areas[self.highest] - self.areas[self.lowest]) / self.mean


@dataclass(frozen=True)
class AreaSpreads:
    """The spread of ports at each lift, and in the mean."""

    points: tuple[AreaSpread, ...]
    mean: AreaSpread | None
    brought: Brought | None
    """None where the ports have no range of lift in common."""


def spread_of_areas(ports: Sequence[Reduction]) -> AreaSpreads:
    """Spread of two or more ports at each lift of the last, and in the mean.

    Parameters
    ----------
    ports : one test of each, of one side

    Returns
    -------
    AreaSpreads; nothing where the ports have no range of lift in common

    Raises
    ------
    ValueError for fewer than two ports, which have no spread

    Notes
    -----
    Two of many ports lie far apart by chance more often than of two: their range is judged by
    the studentized range, its standard uncertainty that of a difference over the root of 2. What
    two ports share, as their calibration, acts on their difference alone. Over several lifts the
    chance of any false verdict is held at one in twenty (Holm). A port's own errors act on the
    mean too, by its share of it: of n ports alike, over their mean, they count by the root of
    1 - 1/n. Sources: Tukey (1953); Kramer, Biometrics 12 (1956) 307 for ports known unequally
    well; JCGM 100:2008, 5.2.
    """
    if len(ports) < 2:
        raise ValueError(gettext("a spread needs two ports"))
    brought = bring(ports)
    if brought is None:
        return AreaSpreads((), None, None)
    differences = {
        (first, other): brought.estimates[first] / brought.estimates[other]
        for first, other in combinations(range(len(ports)), 2)
    }
    shares = [port / mean_of(brought.estimates) for port in brought.estimates]
    points = _family(brought, brought.at_lifts, brought.tested.tolist(), differences, shares)
    (mean,) = _family(brought, brought.over_all, [True], differences, shares)
    return AreaSpreads(points, mean, brought)


_Differences = dict[tuple[int, int], Estimates]


def _family(
    brought: Brought,
    indexes: range,
    tested: Sequence[bool],
    differences: _Differences,
    shares: Sequence[Estimates],
) -> tuple[AreaSpread, ...]:
    """Spreads judged together; `shares` are each port over the mean."""
    stated = brought.is_stated and brought.is_one_side
    judged = np.array(tested) & stated
    count = len(brought.estimates)
    is_shown = np.zeros(len(indexes), dtype=bool)
    chosen = [index for index, is_judged in zip(indexes, judged, strict=True) if is_judged]
    is_shown[judged] = holm([_chance(differences, index, count) for index in chosen])
    return tuple(
        _spread(brought, index, differences, shares, bool(judge), bool(show))
        for index, judge, show in zip(indexes, judged, is_shown, strict=True)
    )


def _spread(
    brought: Brought,
    index: int,
    differences: _Differences,
    shares: Sequence[Estimates],
    judged: bool,
    is_shown: bool,
) -> AreaSpread:
    areas: Floats = np.array([float(port.values[index]) for port in brought.estimates])
    lowest, highest = int(areas.argmin()), int(areas.argmax())
    verdict = SpreadVerdict.DIFFER if is_shown else SpreadVerdict.NO_DIFFERENCE
    span: Span = brought.places[index]
    return AreaSpread(
        *span,
        tuple(areas.tolist()),
        lowest,
        highest,
        _expanded(differences, index, lowest, highest, len(areas)) if judged else None,
        verdict if judged else SpreadVerdict.NOT_STATED,
        tuple(float(share.expanded[index]) if judged else None for share in shares),
    )


def _chance(differences: _Differences, index: int, count: int) -> float:
    """Chance that any two of the ports are as far apart, by the pair that is farthest."""
    chances = [
        range_chance(sqrt(2.0) * abs(log(ratio.values[index])) / standard, count, freedom)
        for ratio in differences.values()
        if (standard := float(ratio.standard[index]))
        for freedom in (float(ratio.freedom[index]),)
    ]
    return min(chances, default=1.0)


def _expanded(
    differences: _Differences, index: int, lowest: int, highest: int, count: int
) -> float:
    """Of the range of the ports, relative to their mean."""
    pair = (min(lowest, highest), max(lowest, highest)) if lowest != highest else (0, 1)
    ratio = differences[pair]
    factor = range_factor_95(count, float(ratio.freedom[index])) / sqrt(2.0)
    return factor * float(ratio.standard[index])
