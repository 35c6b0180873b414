"""One head against another, each by the mean of its ports."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopflow.calc.alike import Alike, alike, held_against
from shopflow.calc.area_gain import AreaComparison, compare_areas
from shopflow.calc.comparison import Held
from shopflow.calc.kinds import Against, Floats
from shopflow.calc.reduction import Reduction


def held_heads(
    first: Sequence[Reduction], second: Sequence[Reduction], against: Against = Against.LIFT
) -> Held:
    """The mean flows of two heads' ports, brought to the last session's lifts.

    Parameters
    ----------
    first, second : one or more sessions of each head, all of one side
    against : whether they meet at like lift or at like lift over valve diameter

    Returns
    -------
    Held, `before` the first head's mean; empty where there is no range all have in common

    Notes
    -----
    Under one calibration the ports' own errors are independent and that of the calibration acts
    on the difference alone. Otherwise nothing is known of what the ports of a head have in common,
    and their errors are added as they stand, which is the most it can be (JCGM 100:2008, 5.2.2,
    note 1). The uncertainty is that of the measurement: how far the ports of a head differ among
    themselves is their spread.
    """
    found = alike([*first, *second], against)
    before, u_before = _mean(found, slice(None, len(first)))
    after, u_after = _mean(found, slice(len(first), None))
    return Held(found.lifts, before, after, u_before, u_after, found.common)


def compare_head_areas(
    first: Sequence[Reduction], second: Sequence[Reduction], against: Against = Against.LIFT
) -> AreaComparison:
    """The mean effective areas of two heads' ports against each other; see `compare_areas`.

    Parameters are those of `held_heads`.
    """
    last = second[-1]
    before, after = ([held_against(one, last, against) for one in head] for head in (first, second))
    return compare_areas(before, after)


def _mean(found: Alike, rows: slice) -> tuple[Floats, Floats]:
    """Mean flow of some of the sessions, and its standard uncertainty, m3/s."""
    flow, u = found.flow[rows], found.standard_uncertainty[rows]
    of_mean = np.sqrt((u**2).sum(axis=0)) / len(u) if found.shared else u.mean(axis=0)
    return flow.mean(axis=0), np.asarray(of_mean)
