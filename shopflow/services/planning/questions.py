"""Questions for the customer: asked for at the bench, put to the customer by the counter."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import and_, exists, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import (
    OPEN_STEP_STATES,
    ApprovalLine,
    Decision,
    Event,
    IntegrityTest,
    Job,
    Measurement,
    Operation,
    Quote,
    QuoteLine,
    Release,
    Visit,
)
from shopflow.services.jobs.jobs import OPEN_JOBS
from shopflow.services.measuring import limit_checks
from shopflow.texts import gettext

_LAST_QUOTE = (
    select(Quote.id)
    .where(Quote.job_id == Job.id)
    .order_by(Quote.revision.desc())
    .limit(1)
    .correlate(Job)
    .scalar_subquery()
)
_OFFERED = exists(QuoteLine).where(
    QuoteLine.operation_id == Operation.id,
    QuoteLine.quote_id == Quote.id,
    Quote.id == _LAST_QUOTE,
)
# The job's quotes alone are looked through, not every quote of the shop.
OPEN_QUOTE = exists(Quote).where(
    Quote.job_id == Job.id, Quote.id == _LAST_QUOTE, Quote.approved_at.is_(None)
)
"""Condition that a job's last quote has no answer yet."""

_AGREED = exists(ApprovalLine).where(
    ApprovalLine.operation_id == Operation.id, ApprovalLine.declined.is_(False)
)
_IS_EXTRA = and_(
    Operation.found,
    Operation.state.in_(OPEN_STEP_STATES),
    Job.approved_at.is_not(None),
    Job.id.in_(OPEN_JOBS),
    ~exists(Release).where(Release.operation_id == Operation.id),
    ~_AGREED,
)
"""Work found after the approval that the customer has not approved yet."""

EXTRAS = (
    select(Operation.job_head_id, Operation.id, _OFFERED.label("offered"))
    .join(Operation.job_head)
    .join(Visit.job)
    .where(_IS_EXTRA)
    .order_by(Operation.position)
)
"""Head, step, and whether the job's last quote offers it."""

_TO_QUOTE = (
    select(Operation)
    .join(Operation.job_head)
    .join(Visit.job)
    .where(_IS_EXTRA, ~_OFFERED)
    .order_by(Operation.job_head_id, Operation.position)
    .options(joinedload(Operation.job_head).joinedload(Visit.job).joinedload(Job.customer))
)
_DECIDED = (
    select(Operation)
    .join(Operation.job_head)
    .where(
        Visit.job_id.in_(OPEN_JOBS),
        Operation.measurements.any(Measurement.decisions.any())
        | Operation.integrity_tests.any(IntegrityTest.decisions.any()),
    )
    .options(
        joinedload(Operation.job_head).joinedload(Visit.job).joinedload(Job.customer),
        selectinload(Operation.measurements).selectinload(Measurement.decisions),
        selectinload(Operation.integrity_tests).selectinload(IntegrityTest.decisions),
    )
)


@dataclass(frozen=True)
class Question:
    """One thing to ask a customer: about which step, what, since when, and who wants to know."""

    step: Operation
    subject: str
    text: str
    since: datetime | None
    asked_by: str
    is_extra: bool
    """True where it is extra work, answered by a quote; else an answer is recorded."""


def open_questions(db: Session) -> list[Question]:
    """Every question that the counter has to ask a customer, the oldest first."""
    questions = [
        _of_decision(step, last)
        for step in db.scalars(_DECIDED).unique()
        if (last := limit_checks.question(step)) is not None
    ]
    extras = list(db.scalars(_TO_QUOTE))
    events = _found_events(db, extras)
    questions += [_of_extra(step, events.get(step.id)) for step in extras]
    return sorted(questions, key=lambda question: (question.since is not None, question.since))


def _of_decision(step: Operation, decision: Decision) -> Question:
    subject = limit_checks.in_words(limit_checks.undecided(step))
    return Question(step, subject, decision.reason, decision.at, decision.person.name, False)


def _of_extra(step: Operation, event: Event | None) -> Question:
    who = event.person.name if event is not None and event.person else ""
    subject = gettext("Extra work: {step}", step=step.kind.name)
    return Question(step, subject, step.instructions, event.at if event else None, who, True)


def _found_events(db: Session, steps: list[Operation]) -> dict[int, Event]:
    """Event that recorded each of these steps as extra work, by the step's key."""
    query = (
        select(Event)
        .where(
            Event.subject == Operation.__tablename__,
            Event.subject_id.in_([step.id for step in steps]),
            Event.verb == "found to be needed",
        )
        .options(selectinload(Event.person))
    )
    return {event.subject_id: event for event in db.scalars(query)} if steps else {}
