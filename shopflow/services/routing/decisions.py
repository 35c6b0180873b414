"""Deciding on results that stop a head's routing: outside limits, or a failed test."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import Choice, Decision, Operation
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import limit_checks
from shopflow.services.routing import step_order, time_tracking
from shopflow.texts import gettext, translated

SPECIFICATION: fields.Specification = {
    "choice": fields.one_of(Choice),
    "reason": fields.text(required=True, most=2000),
}


def decide(
    db: Session, by: Actor, operation: Operation, choice: Any, reason: str
) -> list[Decision]:
    """Decide on every result of a step that stops the work plan, in one go.

    "do it again" puts a copy of the step after it; "ask the customer" clocks everyone off the head.
    Raises ValidationError at `choice` and `reason`, RuleError where nobody is named or nothing
    waits to be decided.
    """
    clean = fields.read(SPECIFICATION, {"choice": choice, "reason": reason})
    if by.person is None:
        raise RuleError(gettext("a decision needs a person"))
    results = limit_checks.undecided(operation)
    if not results:
        raise RuleError(gettext("no result of this step needs a decision"))
    decisions = []
    job = operation.job_head.job
    for row in results:
        decision = Decision(**clean, figure=row.figure, at=by.at, person=by.person)
        row.decisions.append(decision)
        note = f"{row.title} {row.figure}: {translated(clean['choice'])}, {clean['reason']}"
        audit_log.record(db, by, decision, "made", job=job, note=note)
        decisions.append(decision)
    if clean["choice"] is Choice.AGAIN:
        step_order.repeat(db, by, operation, clean["reason"])
    if clean["choice"] is Choice.ASK:
        time_tracking.end_all_on(db, by, operation.job_head)
    return decisions


def answer(
    db: Session, by: Actor, operation: Operation, choice: Any, reason: str
) -> list[Decision]:
    """Record the customer's answer about an operation: to continue, or to do the step again.

    Raises ValidationError at `choice` and `reason`, RuleError where the customer is not asked.
    """
    if limit_checks.question(operation) is None:
        raise RuleError(
            gettext("the customer is not asked about “{kind}”", kind=operation.kind.name)
        )
    if choice == Choice.ASK:
        raise ValidationError([FieldError("choice", gettext("Choose what the customer decided"))])
    return decide(db, by, operation, choice, reason)
