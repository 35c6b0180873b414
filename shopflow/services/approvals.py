"""What may cut metal: the customer's approval, and the owner's release ahead of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Job, Operation, Quote, QuoteLine, Release
from shopflow.services import events, fields
from shopflow.services.actor import Actor

UNAPPROVED = "no metal is cut before the customer has approved the work"
EXTRA = "this is extra work that the customer has not approved yet"

_AGREED = (
    select(QuoteLine.operation_id)
    .join(Quote, Quote.id == QuoteLine.quote_id)
    .where(Quote.job_id == bindparam("job_id"), Quote.approved_at.is_not(None))
)


def forbids(db: Session, operation: Operation) -> str:
    """Why an operation may not cut metal yet; empty where it may, or cuts none."""
    return forbidden(db, operation.job_head.job, [operation]).get(operation, "")


def forbidden(db: Session, job: Job, steps: Iterable[Operation]) -> dict[Operation, str]:
    """Those of a job's steps that would cut metal and may not yet, each with the reason."""
    cutting = [step for step in steps if step.kind.cuts_metal and step.release is None]
    if job.approved_at is None:
        return dict.fromkeys(cutting, UNAPPROVED)
    # Doing once more what was agreed is agreed.
    new = [step for step in cutting if not step.again_because]
    agreed = _agreed(db, job) if new else set()
    return {step: EXTRA for step in new if _is_extra(step, agreed)}


def waiting(db: Session, job: Job) -> list[Operation]:
    """A job's open steps that would cut metal and may not yet."""
    open_ones = (step for stay in job.heads for step in stay.operations if step.is_open)
    return list(forbidden(db, job, open_ones))


def release(
    db: Session, by: Actor, job: Job, steps: Sequence[Operation], reason: str
) -> list[Release]:
    """Let steps cut metal ahead of the customer's approval, on the owner's word.

    Raises FaultsError at `reason`; RuleError where nobody is named or nothing waits.
    """
    clean = fields.read({"reason": fields.text(required=True, most=2000)}, {"reason": reason})
    if by.person is None:
        raise RuleError("a release needs a person")
    if not job.is_open:
        raise RuleError(f"job {job.number} is {job.state.value}")
    if not steps:
        raise RuleError("no step waits for approval")
    made = []
    for step in steps:
        step.release = Release(at=by.at, person=by.person, reason=clean["reason"])
        note = f"{step.kind.name}, {step.job_head.tag}: {clean['reason']}"
        events.record(db, by, step.release, "given ahead of approval", job=job, note=note)
        made.append(step.release)
    return made


def _agreed(db: Session, job: Job) -> set[int]:
    """Keys of the steps that approved quotes offer."""
    return set(db.scalars(_AGREED, {"job_id": job.id}))


def _is_extra(operation: Operation, agreed: set[int]) -> bool:
    """Whether no approved quote offers a step that one has to."""
    return operation.id not in agreed and (operation.found or bool(agreed))
