"""Mean effective areas over cams, and the gain of one test over another in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from shopflow.calc.area_gain import AreaComparison, Judged
from shopflow.calc.array_types import Floats
from shopflow.calc.brought import bring, figures_of
from shopflow.calc.cam import ValveMotion
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.reduction import Reduction

STEPS = 2_000
"""Steps of an open period that a mean is taken over: within a part in 1e6 of finer ones."""

WORTH_SAYING = 0.005
"""Share of the open period beyond a test that rounds to a percent."""


@dataclass(frozen=True, slots=True)
class CamMean:
    """Effective area of a test in the mean over a cam's open period."""

    area: float
    """m2."""

    expanded_uncertainty: float | None
    """Of it for 95 %, m2; None where neither scatter nor the scale's division is known."""

    share_beyond_test: float
    """Share of the open period above the last tested lift, held at the area there: what such
    lifts would have shown is in no uncertainty."""


def cam_mean(test: Reduction, motion: ValveMotion) -> CamMean:
    """Mean effective area of a test over a cam's open period, with its uncertainty.

    Parameters
    ----------
    test : of one port
    motion : of the valve

    Notes
    -----
    The area at each tested lift counts by the time the valve spends near it; the errors of the
    lifts are combined with these weights, those that all lifts share in full (JCGM 102:2011).
    Opening and closing angles, ratio and lash are taken as known.
    """
    errors, last = test.area_errors, float(test.lifts[-1])
    estimates = figures_of(test, errors, _means_over([lifts_over_cam(motion)], last))
    area = float(estimates.values[0])
    stated = area * float(estimates.expanded[0]) if errors.is_stated else None
    return CamMean(area, stated, motion.share_above(last))


def compare_over_cams(
    before: Reduction, after: Reduction, motions: Sequence[ValveMotion]
) -> AreaComparison:
    """The later test's mean effective area over cams against the earlier's.

    Parameters
    ----------
    before, after : tests
    motions : of the valve, one for each cam

    Returns
    -------
    AreaComparison with a part for each cam and neither points nor mean; no parts where the tests
    have no range of lift in common

    Notes
    -----
    Only what both tests cover counts: the time that the valve is at or above the first lift both
    have, with lifts above the last such held at the areas there. Otherwise a lift that one test
    took and the other did not would pass for a gain. The cams are judged together (Holm), as parts
    of the lift are by `compare_areas`; one that stays below that first lift is left out of it.
    """
    brought = bring([before, after])
    if brought is None:
        return AreaComparison((), None, ())
    low, high = brought.spans[0]
    reached = np.array([motion.greatest_lift >= low for motion in motions], dtype=bool)
    times = [lifts_over_cam(motion, low) for motion in motions]
    estimates = [figures_of(*pair, _means_over(times, high)) for pair in brought.tests]
    is_stated = brought.is_stated and brought.is_one_side
    judged = Judged.of([(low, high)] * len(times), estimates, 1, is_stated)
    division = np.full(len(times), brought.mean_division)
    return AreaComparison(
        points=(),
        mean=None,
        parts=judged.family(range(len(times)), reached, division),
        unread=brought.unread,
        half_stated=brought.half_stated,
        is_one_side=brought.is_one_side,
        unlike=brought.unlike,
    )


def lifts_over_cam(motion: ValveMotion, lowest: float = 0.0) -> Floats:
    """Lifts at equal steps of angle over the time that the valve is above a lift; over the whole
    open period where it never is."""
    start, end = motion.above(lowest) or (motion.opens, motion.closes)
    return np.asarray(motion.lift(np.linspace(start, end, STEPS + 1)))


def _means_over(times: Sequence[Floats], highest: float) -> Callable[[LiftCurve], Floats]:
    """Means of a curve over several such times, a figure each; above `highest` the area there."""
    return lambda curve: np.stack([_mean(curve.clamped(lifts, highest)) for lifts in times], -1)


def _mean(areas: Floats) -> Floats:
    """Over equal steps, by trapezoids."""
    return np.asarray(np.trapezoid(areas, axis=-1) / (areas.shape[-1] - 1))
