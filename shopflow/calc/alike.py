"""Several sessions brought to the same lifts, or the same lifts over valve diameter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shopflow.calc.comparison import at_lifts, share_calibration
from shopflow.calc.kinds import Against, Floats
from shopflow.calc.reduction import Reduction


@dataclass(frozen=True)
class Alike:
    """Flows of sessions where all of them have one: rows are sessions, columns are lifts."""

    lifts: Floats
    """The last session's, m."""

    lift_over_diameter: Floats
    flow: Floats
    """At reference pressure, m3/s."""

    standard_uncertainty: Floats
    """m3/s; without what a calibration has in common where every session shares one."""

    shared: bool
    """Whether all sessions were made under one calibration."""

    common: Floats
    """Relative standard uncertainty that all of them share, at each lift; 0 where none is."""

    @property
    def is_empty(self) -> bool:
        """Whether the sessions have no range in common."""
        return len(self.lifts) == 0


def alike(reductions: Sequence[Reduction], against: Against = Against.LIFT) -> Alike:
    """Bring sessions to the last one's lifts, inside the range that all of them have.

    Parameters
    ----------
    reductions : one or more
    against : whether they meet at like lift or at like lift over valve diameter

    Returns
    -------
    Alike, with no columns where the ranges have nothing in common

    Notes
    -----
    Between a session's own lifts flow is linear, and its uncertainty the root sum of squares of
    the two neighbours', each with its weight (JCGM 100:2008, 5.1.2).
    """
    last = reductions[-1]
    curves = [held_against(one, last, against) for one in reductions]
    low, high = max(one.lifts[0] for one in curves), min(one.lifts[-1] for one in curves)
    inside = (last.lifts >= low) & (last.lifts <= high)
    shared = all(share_calibration(one, last) for one in reductions)
    lifts = last.lifts[inside]
    columns = [at_lifts(one, lifts, shared) for one in curves]
    return Alike(
        lifts=lifts,
        lift_over_diameter=last.lift_over_diameter[inside],
        flow=np.array([flow for flow, _ in columns]),
        standard_uncertainty=np.array([u for _, u in columns]),
        shared=shared,
        common=last.budget.common[inside] if shared else np.zeros_like(lifts),
    )


def held_against(one: Reduction, other: Reduction, against: Against) -> Reduction:
    """A session's curve over the lifts at which it meets another's.

    At like lift that is the session itself. At like L/D its lifts are stretched to those of the
    other's valve; its flows and their uncertainty stay as they were measured.
    """
    own, wanted = one.test.valve.head_diameter, other.test.valve.head_diameter
    if against is Against.LIFT or own == wanted:
        return one
    stretch, stated = wanted / own, one.test.uncertainty
    valve = replace(one.test.valve, head_diameter=wanted)
    setting = None if stated.lift is None else stated.lift * stretch
    test = replace(one.test, valve=valve, uncertainty=replace(stated, lift=setting))
    return replace(one, lifts=one.lifts * stretch, test=test)
