"""Two sessions against each other: what a cut was worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.curve import interpolation_weights, mean_over_lift
from shopflow.calc.kinds import Floats
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares


@dataclass(frozen=True, slots=True)
class ComparedPoint:
    """Both sessions at one lift, in SI; the keys of the comparison's JSON."""

    lift: float
    before: float
    after: float
    gain: float
    gain_percent: float
    gain_expanded_uncertainty: float
    significant: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """The later session against the earlier over the lifts they have in common."""

    points: tuple[ComparedPoint, ...]
    mean_gain_percent: float | None


def compare(before: Reduction, after: Reduction) -> Comparison:
    """Gain of one session over another, at the later one's lifts inside the common range.

    Parameters
    ----------
    before, after : reductions; flows at their reference pressures, m3/s

    Returns
    -------
    Comparison; no points and no mean where the ranges of lift have nothing in common

    Notes
    -----
    BEFORE is interpolated linearly. Under one calibration its error is common to both and cancels
    on the flow they share: only its effect on the gain remains. Otherwise every component of both
    counts. A gain is significant where it exceeds its expanded uncertainty (k = 2).
    Source of the treatment of correlated inputs: JCGM 100:2008, 5.2 and F.1.2.
    """
    inside = (after.lifts >= before.lifts[0]) & (after.lifts <= before.lifts[-1])
    lifts = after.lifts[inside]
    if len(lifts) == 0:
        return Comparison((), None)
    shared = share_calibration(before, after)
    flow_before, u_before = at_lifts(before, lifts, shared)
    flow_after, u_after = after.flow[inside], _standard_uncertainty(after, shared)[inside]
    gain = flow_after - flow_before
    common = after.budget.common[inside] if shared else 0.0
    u_gain = root_sum_of_squares(u_before, u_after, common * gain)
    expanded = COVERAGE_FACTOR * u_gain
    ratio = mean_over_lift(lifts, flow_after) / mean_over_lift(lifts, flow_before)
    points = compared_points(lifts, flow_before, flow_after, expanded)
    return Comparison(points, 100.0 * (ratio - 1.0))


def compared_points(
    lifts: Floats, before: Floats, after: Floats, expanded: Floats
) -> tuple[ComparedPoint, ...]:
    """What changed at each lift, and whether it exceeds its expanded uncertainty.

    Parameters
    ----------
    lifts : m
    before, after : flows at them, m3/s
    expanded : uncertainty of their difference (k = 2), m3/s
    """
    gain = after - before
    columns = (lifts, before, after, gain, 100.0 * gain / before, expanded, np.abs(gain) > expanded)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return tuple(ComparedPoint(*row) for row in rows)


def share_calibration(before: Reduction, after: Reduction) -> bool:
    """Whether both sessions name their bench and calibration, and name the same."""
    key = before.test.calibration_key
    return key is not None and key == after.test.calibration_key


def at_lifts(reduction: Reduction, lifts: Floats, shared: bool) -> tuple[Floats, Floats]:
    """Flow and its standard uncertainty between a session's own lifts, both in m3/s.

    Where the calibration is `shared` with what it is held against, it is left out.
    """
    lower, upper, weight = interpolation_weights(reduction.lifts, lifts)
    flow, u = reduction.flow, _standard_uncertainty(reduction, shared)
    between = flow[lower] * (1.0 - weight) + flow[upper] * weight
    return between, np.hypot(u[lower] * (1.0 - weight), u[upper] * weight)


def _standard_uncertainty(reduction: Reduction, shared: bool) -> Floats:
    """Standard uncertainty of the flow, without the calibration where it is shared."""
    budget = reduction.budget
    return np.asarray((budget.own if shared else budget.combined) * reduction.flow)
