"""One head against another, each by the mean of its ports."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopflow.calc.alike import Alike, alike
from shopflow.calc.comparison import Comparison, compared_points
from shopflow.calc.curve import mean_over_lift
from shopflow.calc.kinds import Against, Floats
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares


def compare_heads(
    first: Sequence[Reduction], second: Sequence[Reduction], against: Against = Against.LIFT
) -> Comparison:
    """Mean flow of one head's ports against that of another's.

    Parameters
    ----------
    first, second : one or more sessions of each head, all of one side
    against : whether they meet at like lift or at like lift over valve diameter

    Returns
    -------
    Comparison, its gain the second head's mean less the first's, at the last session's lifts

    Notes
    -----
    Under one calibration the ports' own errors are independent and that of the calibration acts
    on the difference alone. Otherwise nothing is known of what the ports of a head have in common,
    and their errors are added as they stand, which is the most it can be (JCGM 100:2008, 5.2.2,
    note 1). The uncertainty is that of the measurement: how far the ports of a head differ among
    themselves is their spread.
    """
    found = alike([*first, *second], against)
    if found.is_empty:
        return Comparison((), None)
    split = len(first)
    before, u_before = _mean(found, slice(None, split))
    after, u_after = _mean(found, slice(split, None))
    u_gain = root_sum_of_squares(u_before, u_after, found.common * (after - before))
    ratio = mean_over_lift(found.lifts, after) / mean_over_lift(found.lifts, before)
    points = compared_points(found.lifts, before, after, COVERAGE_FACTOR * u_gain)
    return Comparison(points, 100.0 * (ratio - 1.0))


def _mean(found: Alike, rows: slice) -> tuple[Floats, Floats]:
    """Mean flow of some sessions, and its standard uncertainty."""
    flow, u = found.flow[rows], found.standard_uncertainty[rows]
    of_mean = np.sqrt((u**2).sum(axis=0)) / len(u) if found.shared else u.mean(axis=0)
    return flow.mean(axis=0), np.asarray(of_mean)
