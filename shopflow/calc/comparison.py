"""Two sessions against each other: what a cut was worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.curve import Floats, interpolation_weights, mean_over_lift
from shopflow.calc.reduction import COVERAGE_FACTOR, Reduction


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
    shared = _share_calibration(before, after)
    lower, upper, weight = interpolation_weights(before.lifts, lifts)
    flow_before = before.flow[lower] * (1.0 - weight) + before.flow[upper] * weight
    u_before = _standard(before, shared)
    u_at_lifts = np.hypot(u_before[lower] * (1.0 - weight), u_before[upper] * weight)
    u_after = _standard(after, shared)[inside]
    flow_after = after.flow[inside]
    gain = flow_after - flow_before
    u_shared = after.test.uncertainty.calibration / 2.0 * np.abs(gain) if shared else 0.0
    expanded = COVERAGE_FACTOR * np.sqrt(u_at_lifts**2 + u_after**2 + u_shared**2)
    mean_before = mean_over_lift(lifts, flow_before)
    return Comparison(
        points=tuple(
            ComparedPoint(*row)
            for row in zip(
                np.asarray(after.test.lifts)[inside].tolist(),
                flow_before.tolist(),
                flow_after.tolist(),
                gain.tolist(),
                (100.0 * gain / flow_before).tolist(),
                expanded.tolist(),
                (np.abs(gain) > expanded).tolist(),
                strict=True,
            )
        ),
        mean_gain_percent=100.0 * (mean_over_lift(lifts, flow_after) / mean_before - 1.0),
    )


def _share_calibration(before: Reduction, after: Reduction) -> bool:
    key = before.test.calibration_key
    return key is not None and key == after.test.calibration_key


def _standard(reduction: Reduction, shared: bool) -> Floats:
    """Standard uncertainty of the flow, without the calibration where it is shared."""
    budget = reduction.budget
    return (budget.without_calibration if shared else budget.combined) * reduction.flow
