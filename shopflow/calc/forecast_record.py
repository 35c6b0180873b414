"""A shop's forecasts against what came: how many were inside, and to which side they err."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb
from statistics import median

from shopflow.calc.monte_carlo import Interval

LEAST_RESULTS = 5
"""Fewer say nothing."""

RARE = 0.05
"""Chance below which so many results on one side of the middles are no accident."""


@dataclass(frozen=True)
class Record:
    """Forecasts of which a result came."""

    count: int
    inside: int
    median_ratio: float
    """Median of result over the middle of its forecast."""

    above: int
    """Results above the middle of their forecasts."""

    chance: float
    """Of as many or more on one side where either is as likely."""

    @property
    def says_something(self) -> bool:
        """True from five results on."""
        return self.count >= LEAST_RESULTS

    @property
    def is_biased(self) -> bool:
        """True where the results lie to one side of the middles more often than chance allows."""
        return self.says_something and self.chance < RARE


def record(pairs: Sequence[tuple[Interval, float]]) -> Record | None:
    """Sum up forecasts and results; None where there are none.

    Parameters
    ----------
    pairs : each forecast with the result reported after it

    Notes
    -----
    The test of bias is the two-sided sign test, exact by the binomial distribution: it needs no
    shape of the intervals. Source: common statistics, as Conover (1999), section 3.4, from memory.

    Examples
    --------
    >>> even = Interval(90.0, 100.0, 110.0)
    >>> outcome = record([(even, result) for result in (101.0, 104.0, 108.0, 109.0, 120.0, 103.0)])
    >>> outcome.inside, round(outcome.median_ratio, 2), outcome.above, outcome.chance
    (5, 1.06, 6, 0.03125)
    """
    if not pairs:
        return None
    above = sum(result > forecast.median for forecast, result in pairs)
    below = sum(result < forecast.median for forecast, result in pairs)
    return Record(
        count=len(pairs),
        inside=sum(forecast.holds(result) for forecast, result in pairs),
        median_ratio=median(result / forecast.median for forecast, result in pairs),
        above=above,
        chance=_sign_test(above, below),
    )


def _sign_test(above: int, below: int) -> float:
    """Chance of as uneven a split of so many; those equal to the middle do not count."""
    count, most = above + below, max(above, below)
    tail = sum(comb(count, number) for number in range(most, count + 1))
    return min(1.0, float(2 * tail / 2**count))
