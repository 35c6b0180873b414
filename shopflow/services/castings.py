"""The state a casting is in by what is on record, and what it gained since it was stock."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from shopflow.errors import Fault, FaultsError
from shopflow.models import (
    BenchSession,
    CastingState,
    Head,
    JobHead,
    JobState,
    Operation,
    OperationState,
)
from shopflow.services import gains, outcomes
from shopflow.services.gains import Gain

NOT_ONCE_PORTED = (CastingState.AS_CAST, CastingState.UNKNOWN)
"""What a head that this shop ported cannot be on a later visit."""


@dataclass(frozen=True)
class SinceStock:
    """A port's first test as cast and its latest test, whatever visits they were made on."""

    stock: BenchSession
    latest: BenchSession
    gain: Gain | None
    """In mean flow; none where the two cannot be set against each other."""


def visits_in_order(head: Head) -> list[JobHead]:
    """A head's visits that were not cancelled, the earliest first."""
    counted = [visit for visit in head.visits if visit.job.state is not JobState.CANCELLED]
    return sorted(counted, key=lambda visit: (visit.job.booked_in_at, visit.id))


def visits_before(visit: JobHead) -> list[JobHead]:
    """A head's visits before one, the earliest first."""
    begun = (visit.job.booked_in_at, visit.id)
    earlier = visits_in_order(visit.head)
    return [one for one in earlier if (one.job.booked_in_at, one.id) < begun]


def state_after(visits: Iterable[JobHead]) -> CastingState:
    """The state a head left these visits in, the earliest first; unknown after none."""
    state = CastingState.UNKNOWN
    for visit in visits:
        state = CastingState.PORTED_HERE if porting_of(visit) else visit.casting_state
    return state


def state_of(head: Head) -> CastingState:
    """The state a head is in."""
    return state_after(visits_in_order(head))


def porting_of(visit: JobHead) -> list[Operation]:
    """The steps done on a visit that shaped the head's ports, chambers or seats."""
    return [
        step
        for step in visit.operations
        if step.state is OperationState.DONE and step.kind.shapes_ports
    ]


def arrived(given: CastingState | None, earlier: Sequence[JobHead]) -> CastingState:
    """The state a head comes in: as given, otherwise as it left its earlier visits.

    Raises FaultsError where what is given contradicts work this shop did.
    """
    ported = [visit for visit in earlier if porting_of(visit)]
    if given is None:
        return state_after(earlier)
    if ported and given in NOT_ONCE_PORTED:
        message = (
            f"“{given.value}” contradicts job {ported[-1].job.number}, on which this shop cut the "
            "head: choose ported here, or ported elsewhere if others cut it since"
        )
        raise FaultsError([Fault("casting_state", message)])
    return given


def since_stock(head: Head) -> list[SinceStock]:
    """Every port with a test as cast and a later one, the intakes first."""
    ports: dict[tuple[str, str], list[BenchSession]] = {}
    for visit in visits_in_order(head):
        for row in visit.sessions:
            ports.setdefault((row.side, row.cylinder), []).append(row)
    pairs = []
    for rows in ports.values():
        rows.sort(key=_tested)
        place = next((place for place, row in enumerate(rows) if outcomes.is_stock(row)), None)
        if place is not None and rows[-1] is not rows[place]:
            pairs.append((rows[place], rows[-1]))
    pairs.sort(key=lambda pair: (pair[0].side != "intake", pair[0].cylinder))
    return [SinceStock(*pair, gains.between(*pair)) for pair in pairs]


def _tested(row: BenchSession) -> tuple[datetime, int]:
    return row.measured_at or row.entered_at, row.id
