"""A session brought to where it meets another: at like lift, or at like lift over diameter."""

from __future__ import annotations

from dataclasses import replace

from shopflow.calc.array_types import Against
from shopflow.calc.reduction import Reduction


def held_against(session: Reduction, other: Reduction, against: Against) -> Reduction:
    """A session's curve over the lifts at which it meets another's.

    At like lift that is the session itself. At like L/D its lifts are stretched to those of the
    other's valve; its flows and their uncertainty stay as they were measured.
    """
    own, wanted = session.test.valve.head_diameter, other.test.valve.head_diameter
    if against is Against.LIFT or own == wanted:
        return session
    stretch, stated = wanted / own, session.test.uncertainty
    valve = replace(session.test.valve, head_diameter=wanted)
    setting = None if stated.lift is None else stated.lift * stretch
    stretched = replace(session.test, valve=valve, uncertainty=replace(stated, lift=setting))
    return replace(session, lifts=session.lifts * stretch, test=stretched)
