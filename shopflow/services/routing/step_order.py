"""The order of a head's steps: moved, put in a place, done again."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import Operation
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.routing import operations
from shopflow.texts import gettext


def move(db: Session, by: Actor, operation: Operation, *, up: bool) -> None:
    """Swap a step with its open neighbour; nothing happens at the end of the list.

    Raises RuleError where the step is done, or the neighbour is.
    """
    steps = operation.job_head.operations
    target = steps.index(operation) + (-1 if up else 1)
    if 0 <= target < len(steps) or not operation.is_open:
        move_to(db, by, operation, target + 1)


def move_to(db: Session, by: Actor, operation: Operation, number: int) -> None:
    """Move a step to this number among its head's steps, from 1; those between move up or down.

    Raises RuleError where the step is done, or would pass one that is; ValidationError at `number`.
    """
    if not operation.is_open:
        raise RuleError(gettext("a step that is done keeps its place"))
    steps = operation.job_head.operations
    if not 1 <= number <= len(steps):
        raise ValidationError(
            [FieldError("number", gettext("a number from 1 to {count}", count=len(steps)))]
        )
    before = steps.index(operation) + 1
    between = steps[number - 1 : before] if number < before else steps[before - 1 : number]
    if not all(step.is_open for step in between):
        raise RuleError(gettext("a step cannot move past one that is done"))
    order = [step for step in steps if step is not operation]
    order.insert(number - 1, operation)
    operations.number_steps(operation.job_head, order)
    note = gettext("from {before} to {number}", before=before, number=number)
    audit_log.record(db, by, operation, "moved", job=operation.job_head.job, note=note)


def repeat(db: Session, by: Actor, operation: Operation, reason: str) -> Operation:
    """Plan a step once more, right after it, saying why; the repeat is not charged.

    Raises ValidationError at `reason`, RuleError where the job is closed.
    """
    clean = fields.read({"reason": fields.text(required=True, most=2000)}, {"reason": reason})
    visit = operation.job_head
    operations.must_be_open(visit)
    again = Operation(
        kind=operation.kind,
        position=0,
        instructions=operation.instructions,
        planned_minutes=operation.planned_minutes,
        price=Decimal(0),
        again_because=clean["reason"],
    )
    operations.insert_step(visit, again, visit.operations.index(operation) + 1)
    note = f"{operation.kind.name}, {visit.tag}: {clean['reason']}"
    audit_log.record(db, by, again, "planned again", job=visit.job, note=note)
    return again
