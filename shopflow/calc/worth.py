"""What each step of a job was worth: mean flows over parts of the lift, which add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shopflow.calc.comparison import share_calibration
from shopflow.calc.curve import mean_weights
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR

WHOLE = "whole"
LOW_UP_TO = 0.15
MID_UP_TO = 0.25
"""L/D that part low lift from mid and mid from high; common practice, no source. Past a quarter
the curtain is larger than the valve head."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the lift, from `low` to `high`, m."""

    name: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Step:
    """One session against another over a part of the lift; flows in m3/s."""

    part: Part
    before: float
    after: float
    gain: float
    gain_percent: float
    expanded_uncertainty: float
    """Of the gain, k = 2; 0 where neither session states any."""

    significant: bool
    u_before: float
    u_after: float
    """Standard uncertainties of the two means, without the calibration's."""

    u_common: float
    """What the calibration adds to the gain's."""


@dataclass(frozen=True, slots=True)
class Worth:
    """A port's sessions in order: each against the one before, and the last against the first."""

    parts: tuple[Part, ...]
    steps: tuple[tuple[Step, ...], ...]
    """For each session after the first, a step for each part."""

    total: tuple[Step, ...]


def parts_of_lift(low: float, high: float, head_diameter: float) -> tuple[Part, ...]:
    """The whole of a range of lift, and its low, mid and high parts where it reaches into them.

    Parameters
    ----------
    low, high : range of lift, m
    head_diameter : of the valve, m

    Examples
    --------
    >>> [part.name for part in parts_of_lift(0.002, 0.008, 0.044)]
    ['whole', 'low', 'mid']
    """
    bounds = (0.0, LOW_UP_TO * head_diameter, MID_UP_TO * head_diameter, float("inf"))
    found = [Part(WHOLE, low, high)]
    for name, start, end in zip(("low", "mid", "high"), bounds, bounds[1:], strict=False):
        first, last = max(low, start), min(high, end)
        if first < last:
            found.append(Part(name, first, last))
    return tuple(found)


def worth(sessions: Sequence[Reduction]) -> Worth | None:
    """What each session of a port gained over the one before, and the last over the first.

    Parameters
    ----------
    sessions : two or more of one port in order, stated at one reference pressure

    Returns
    -------
    Worth; None where the sessions have no range of lift in common

    Notes
    -----
    Means are taken over the lifts that all the sessions cover, along curves drawn straight from
    point to point, so that the steps add up to the total. The parts go by the first session's
    valve.
    Repeats scatter independently at each lift; pressure and lift setting may be off alike over a
    whole session, and count in full. Under one calibration its error is common to both sessions:
    only its effect on the gain remains. Source: JCGM 100:2008, 5.1, 5.2 and F.1.2.
    """
    low = max(float(found.lifts[0]) for found in sessions)
    high = min(float(found.lifts[-1]) for found in sessions)
    if low > high:
        return None
    parts = parts_of_lift(low, high, sessions[0].test.valve.head_diameter)
    steps = [
        tuple(step(before, after, part) for part in parts) for before, after in pairwise(sessions)
    ]
    total = tuple(step(sessions[0], sessions[-1], part) for part in parts)
    return Worth(parts, tuple(steps), total)


def step(before: Reduction, after: Reduction, part: Part) -> Step:
    """One session against another over a part of the lift that both cover."""
    mean_before, own_before = _mean(before, part)
    mean_after, own_after = _mean(after, part)
    gain = mean_after - mean_before
    if share_calibration(before, after):
        common = _common(after) * gain
    else:
        common = float(np.hypot(_common(before) * mean_before, _common(after) * mean_after))
    expanded = COVERAGE_FACTOR * float(np.linalg.norm((own_before, own_after, common)))
    percent = 100.0 * gain / mean_before
    significant = abs(gain) > expanded
    uncertainties = (own_before, own_after, common)
    return Step(part, mean_before, mean_after, gain, percent, expanded, significant, *uncertainties)


def _mean(found: Reduction, part: Part) -> tuple[float, float]:
    """Mean flow over a part, and its standard uncertainty without the calibration's."""
    weights = mean_weights(found.lifts, part.low, part.high)
    flows = weights * found.flow
    budget = found.budget
    apart = float(np.linalg.norm(budget.runs * flows))
    together = [float(np.sum(of_flow * flows)) for of_flow in (budget.pressure, budget.lift)]
    return float(flows.sum()), float(np.linalg.norm((apart, *together)))


def _common(found: Reduction) -> float:
    """Relative standard uncertainty that is common to a session's lifts."""
    return float(found.budget.common[0])
