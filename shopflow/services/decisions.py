"""Deciding on figures outside their limits: until then the head's routing stands still."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Choice, Decision, Operation
from shopflow.services import events, fields, order, verdicts
from shopflow.services.actor import Actor

SPECIFICATION: fields.Specification = {
    "choice": fields.one_of(Choice),
    "reason": fields.text(required=True, most=2000),
}


def decide(
    db: Session, by: Actor, operation: Operation, choice: Any, reason: str
) -> list[Decision]:
    """Decide on every figure of an operation that stops the routing, in one go.

    "do it again" puts a copy of the step after it. Raises FaultsError at `choice` and `reason`,
    RuleError where nobody is named or nothing waits to be decided.
    """
    clean = fields.read(SPECIFICATION, {"choice": choice, "reason": reason})
    if by.person is None:
        raise RuleError("a decision needs a person")
    figures = verdicts.undecided(operation)
    if not figures:
        raise RuleError("no figure of this step waits to be decided on")
    made = []
    job = operation.job_head.job
    for row in figures:
        decision = Decision(**clean, figure=row.figure, at=by.at, person=by.person)
        row.decisions.append(decision)
        note = f"{row.kind.name} {row.figure}: {clean['choice'].value}, {clean['reason']}"
        events.record(db, by, decision, "made", job=job, note=note)
        made.append(decision)
    if clean["choice"] is Choice.AGAIN:
        order.repeat(db, by, operation, clean["reason"])
    return made
