"""A user's own work: heads in hand, and those whose next act is theirs, in the floor's order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import Operation, OperationKind, Role, User
from shopflow.services.planning import next_act
from shopflow.services.planning.floor import FloorRow
from shopflow.services.planning.next_act import Party, Verb

PARTIES = {
    Role.OWNER: (Party.COUNTER, Party.WORKSHOP),
    Role.COUNTER: (Party.COUNTER,),
    Role.MACHINIST: (Party.WORKSHOP,),
    Role.READER: (),
}
"""Parties that each role acts for."""

AT_THE_BENCH = (Verb.START, Verb.SIGN_OFF, Verb.MEASURE, Verb.RECORD_TEST)


@dataclass(frozen=True, slots=True)
class MyWork:
    """Rows of the floor that are a user's own."""

    in_hand: Sequence[FloorRow]
    """Heads they are clocked on to, or whose step in progress they started."""

    up_next: Sequence[FloorRow]
    """Heads that nobody else has in hand and whose next act is theirs."""


def of_user(rows: Sequence[FloorRow], user: User) -> MyWork:
    """Work of a user among the rows of the floor; each in the floor's order."""
    in_hand = [row for row in rows if _has_in_hand(row, user)]
    return MyWork(
        in_hand, [row for row in rows if row not in in_hand and _is_theirs(row, user.role)]
    )


@dataclass(frozen=True, slots=True)
class StepBrief:
    """Words to be read before a step is started."""

    instructions: str
    hazards: Sequence[str]
    """As `documents.cautions` names them, or the shop's own words."""


def briefs(db: Session, rows: Iterable[FloorRow]) -> dict[int, StepBrief]:
    """Briefs of the rows' next steps, by the step's key."""
    keys = [row.next_step.id for row in rows if row.next_step is not None]
    query = (
        select(Operation.id, Operation.instructions, OperationKind.cautions)
        .join(Operation.kind)
        .where(Operation.id.in_(keys))
    )
    return {key: StepBrief(text, hazards) for key, text, hazards in db.execute(query)}


def _has_in_hand(row: FloorRow, user: User) -> bool:
    step = row.next_step
    started = step is not None and step.is_begun and step.started_by_id == user.id
    return user.id in row.worker_ids or started


def _is_theirs(row: FloorRow, role: Role) -> bool:
    act = next_act.for_role(row.acts, role)
    if act is None or row.worker_ids:
        return False
    step = row.next_step
    if act.verb in AT_THE_BENCH and step is not None and step.is_begun:
        return False
    may_begin = act.verb is Verb.START and Party.WORKSHOP in PARTIES[role]
    return act.party in PARTIES[role] and (act == row.acts[0] or may_begin)
