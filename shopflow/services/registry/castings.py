"""The state a casting is in, by what is on record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shopflow.errors import FieldError, ValidationError
from shopflow.models import (
    CastingState,
    Head,
    JobState,
    Operation,
    OperationState,
    Visit,
)
from shopflow.texts import gettext

NOT_ONCE_PORTED = (CastingState.AS_CAST, CastingState.UNKNOWN)
"""States that a head ported by this shop cannot have on a later visit."""


def visits_in_order(head: Head) -> list[Visit]:
    """A head's visits that were not cancelled, the earliest first."""
    counted = [visit for visit in head.visits if visit.job.state is not JobState.CANCELLED]
    return sorted(counted, key=lambda visit: (visit.job.booked_in_at, visit.id))


def visits_before(visit: Visit) -> list[Visit]:
    """A head's visits before one, the earliest first."""
    begun = (visit.job.booked_in_at, visit.id)
    earlier = visits_in_order(visit.head)
    return [other for other in earlier if (other.job.booked_in_at, other.id) < begun]


def state_after(visits: Iterable[Visit]) -> CastingState:
    """The state a head left these visits in, the earliest first; unknown after none."""
    state = CastingState.UNKNOWN
    for visit in visits:
        state = CastingState.PORTED_HERE if porting_of(visit) else visit.casting_state
    return state


def state_of(head: Head) -> CastingState:
    """The state a head is in."""
    return state_after(visits_in_order(head))


def porting_of(visit: Visit) -> list[Operation]:
    """The steps done on a visit that shaped the head's ports, chambers or seats."""
    return [
        step
        for step in visit.operations
        if step.state is OperationState.DONE and step.kind.shapes_ports
    ]


def arrived(entered: CastingState | None, earlier: Sequence[Visit]) -> CastingState:
    """The state a head arrives in: as entered, otherwise as it left its earlier visits.

    Raises ValidationError where what is given contradicts work this shop did.
    """
    ported = [visit for visit in earlier if porting_of(visit)]
    if entered is None:
        return state_after(earlier)
    if ported and entered in NOT_ONCE_PORTED:
        message = gettext(
            "“{state}” contradicts job {number}, on which this shop cut the head: choose ported "
            "here, or ported elsewhere if others cut it since",
            state=entered,
            number=ported[-1].job.number,
        )
        raise ValidationError([FieldError("casting_state", message)])
    return entered
