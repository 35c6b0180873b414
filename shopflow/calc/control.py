"""Control chart of individual values: does a bench still read as it did at its calibration?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, nan, sqrt

import numpy as np

from shopflow.calc.student import factor
from shopflow.texts import gettext

BASELINE = 10
"""Values that the baseline is frozen at: later ones are judged by it and don't move it; common
practice, no source."""

FEWEST = 3
"""Values of a baseline before the next one is judged."""

FEW_CHANCE = 0.05
"""Chance that a value of an unchanged bench lies outside, while the baseline grows: a jump of five
standard deviations at the sixth value is then flagged in 92 % of cases, a rarer alarm misses it."""

CHANCE = 0.01
"""The same once the baseline is frozen."""

RUN = 8
"""Values in a row on one side of the centre that speak of a shift (Western Electric's fourth rule,
NIST/SEMATECH e-Handbook, 6.3.2); looked for once the baseline is frozen."""


@dataclass(frozen=True, slots=True)
class ControlChart:
    """The baseline, the limits each value was held to, and which of them stand out."""

    centre: float
    deviation: float
    """Standard deviation of the baseline."""

    baseline: tuple[int, ...]
    """Places of the values it is made of: the first ones but for those far outside."""

    limits: tuple[tuple[float, float], ...]
    """Limits of each value, from earlier ones only; infinite where these were too few."""

    next_limits: tuple[float, float]
    """Limits of the next value."""

    outside: tuple[int, ...]
    """Places of the values beyond their limits."""

    runs: tuple[int, ...]
    """Places of every value in a run on one side of the centre that has become too long."""

    latest_fault: str
    """Fault of the latest value, in words; empty where there is none."""

    @property
    def is_frozen(self) -> bool:
        """True where the baseline is complete."""
        return len(self.baseline) == BASELINE


def control_chart(values: Sequence[float], division: float = 0.0) -> ControlChart | None:
    r"""Limits for individual values by the prediction interval of a baseline.

    .. math:: \bar x \pm t_{\nu}\, s \sqrt{1 + 1/n},\quad \nu = n - 1

    Parameters
    ----------
    values : since the calibration, in the order they were measured, any unit
    division : the least step between two values; the standard deviation is never taken as less
        than that over sqrt(12)

    Returns
    -------
    ControlChart; None for fewer than three values

    Notes
    -----
    Each value is held to the baseline of those before it, never to limits that it made itself. One
    that only one in a hundred would exceed stays out of the baseline. Source: prediction interval
    of one further normal observation, calculated with SciPy's t.

    Examples
    --------
    Three values of mean 1 and standard deviation 1, t 4.3027: 1 ± 4.3027 sqrt(4/3).

    >>> chart = control_chart([0.0, 1.0, 2.0])
    >>> [round(limit, 4) for limit in chart.next_limits]
    [-3.9683, 5.9683]
    """
    if len(values) < FEWEST:
        return None
    floor = division / sqrt(12.0)
    baseline: list[int] = []
    limits, outside = [], []
    frozen_at = len(values)
    summary = _summary([], floor)
    for index, value in enumerate(values):
        held_to = _limits(summary, _chance(len(baseline)))
        limits.append(held_to)
        if not held_to[0] <= value <= held_to[1]:
            outside.append(index)
        if len(baseline) == BASELINE:
            continue
        low, high = _limits(summary, CHANCE)
        if low <= value <= high:
            baseline.append(index)
            summary = _summary([values[at] for at in baseline], floor)
            frozen_at = index if len(baseline) == BASELINE else frozen_at
    runs = _runs([value - summary.centre for value in values], frozen_at + 1)
    return ControlChart(
        summary.centre,
        summary.deviation,
        tuple(baseline),
        tuple(limits),
        _limits(summary, _chance(len(baseline))),
        tuple(outside),
        runs,
        _fault(len(values) - 1, outside, runs),
    )


def _chance(count: int) -> float:
    """Chance of a false alarm at the value after so many of a baseline."""
    return FEW_CHANCE if count < BASELINE else CHANCE


@dataclass(frozen=True, slots=True)
class _Summary:
    """Mean and standard deviation of a baseline, how many values it has and the largest."""

    count: int
    centre: float
    deviation: float
    largest: float


def _summary(baseline: Sequence[float], floor: float) -> _Summary:
    """The summary of a baseline, its standard deviation never below the floor."""
    count = len(baseline)
    if count < 2:
        return _Summary(count, nan, nan, nan)
    centre = fsum(baseline) / count
    deviation = sqrt(fsum((value - centre) ** 2 for value in baseline) / (count - 1))
    return _Summary(count, centre, max(deviation, floor), max(map(abs, baseline)))


def _limits(baseline: _Summary, chance: float) -> tuple[float, float]:
    """Limits of the value after a baseline."""
    count = baseline.count
    if count < FEWEST:
        return -inf, inf
    reach = factor(chance, count - 1) * baseline.deviation * sqrt(1.0 + 1.0 / count)
    # A rounding's worth, so that values that never change lie inside.
    slack = 1e-12 * baseline.largest
    return baseline.centre - reach - slack, baseline.centre + reach + slack


def _fault(last: int, outside: Sequence[int], runs: Sequence[int]) -> str:
    if last in outside:
        return gettext("outside its control limits")
    if last in runs:
        return gettext("one of {run} or more in a row on one side of the baseline's mean", run=RUN)
    return ""


def _runs(offsets: Sequence[float], start: int) -> tuple[int, ...]:
    """Places of the values in runs of one side that have reached their length."""
    members: set[int] = set()
    length, before = 0, nan
    for index, side in enumerate(np.sign(offsets).tolist()[start:], start=start):
        length = length + 1 if side == before and side != 0 else 1
        before = side
        if length >= RUN:
            members.update(range(index - length + 1, index + 1))
    return tuple(sorted(members))
