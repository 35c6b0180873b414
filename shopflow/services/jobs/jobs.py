"""Jobs: finding them, changing them, taking them from state to state until collection."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    CLOSED_STATES,
    OPEN_STATES,
    CastingState,
    EngineType,
    Head,
    Induction,
    Job,
    JobState,
    Operation,
    OperationState,
    Purpose,
    Quote,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.jobs import received_parts
from shopflow.services.measuring import limit_checks
from shopflow.services.registry import castings
from shopflow.services.registry.engine_types import NAME_ONLY
from shopflow.texts import gettext, ngettext, translated

T = TypeVar("T")

SPECIFICATION: fields.Specification = {
    "priority": fields.count(),
    "promised_on": fields.day(),
    "purpose": fields.one_of(Purpose),
    "induction": fields.one_of(Induction),
    "boost": fields.quantity("pressure", above=-1e-9),
    "rev_limit_rpm": fields.count(least=1),
    "fuel": fields.text(),
    "intake_lift": fields.quantity("length", above=0.0),
    "exhaust_lift": fields.quantity("length", above=0.0),
    "asked_for": fields.words(),
    "notes": fields.words(),
    "order_number": fields.text(),
}
VISIT: fields.Specification = {
    "casting_state": fields.one_of(CastingState),
    "condition": fields.words(),
    "parts_received": fields.words(),
    "came_back_because": fields.words(),
    "parts": received_parts.read,
}


FOLLOWS: dict[JobState, tuple[JobState, ...]] = {
    JobState.BOOKED_IN: (JobState.QUOTED, JobState.APPROVED),
    JobState.QUOTED: (JobState.BOOKED_IN, JobState.APPROVED),
    JobState.APPROVED: (JobState.READY, JobState.IN_WORK),
    JobState.IN_WORK: (JobState.READY,),
    JobState.READY: (JobState.COLLECTED, JobState.SHIPPED, JobState.IN_WORK),
    JobState.COLLECTED: (JobState.READY,),
    JobState.SHIPPED: (JobState.READY,),
    JobState.CANCELLED: (),
    JobState.DEVELOPMENT: (),
}
"""States that may follow each state, the usual one first; cancelling, from any open one, is
apart."""

OPEN_JOBS = select(Job.id).where(Job.state.in_(OPEN_STATES))
"""Keys of the customers' open jobs, to be asked within another query.

Joined, SQLite would read all jobs, customers or operations there ever were: it estimates as many
jobs of one state as of another.
"""

IN_ORDER = (Job.promised_on.is_(None), Job.promised_on, Job.priority.desc(), Visit.tag)
"""Order of the heads in the shop, on the floor and at the bench: the earliest promise first."""

_QUOTED = select(Quote.id).where(Quote.job_id == bindparam("job_id")).limit(1)
_VISIT = (
    select(Visit)
    .where(Visit.tag == bindparam("tag"))
    .options(joinedload(Visit.head).joinedload(Head.engine_type).lazyload(EngineType.aliases))
)


def get(db: Session, number: str) -> Job:
    """The job with this number and its heads. Raises NotFoundError."""
    heads = selectinload(Job.heads).joinedload(Visit.head)
    query = select(Job).where(Job.number == number).options(joinedload(Job.customer), heads)
    return existing(db.scalars(query).one_or_none(), no_job(number))


def visit(db: Session, tag: str) -> Visit:
    """The visit of the head that carries this tag. Raises NotFoundError."""
    return existing(db.scalars(_VISIT, {"tag": tag}).one_or_none(), no_head(tag))


def existing(row: T | None, refusal: str) -> T:
    """Return the row, if there is one. Raises NotFoundError with the refusal."""
    if row is None:
        raise NotFoundError(refusal)
    return row


def no_job(number: str) -> str:
    """Text for a number that no job has."""
    return gettext("there is no job {number}", number=number)


def no_head(tag: str) -> str:
    """Text for a label that no head has."""
    return gettext("there is no head with label {tag}", tag=tag)


def recent(
    db: Session, limit: int = 100, *, skip: int = 0, is_open: bool | None = None
) -> list[Job]:
    """The latest jobs after the first `skip`; open and closed where `is_open` is not given."""
    query = (
        select(Job)
        .order_by(Job.booked_in_at.desc(), Job.id.desc())
        .offset(skip)
        .limit(limit)
        .options(
            joinedload(Job.customer),
            selectinload(Job.heads)
            .joinedload(Visit.head)
            .joinedload(Head.engine_type)
            .options(*NAME_ONLY),
        )
    )
    if is_open is not None:
        wanted = Job.id.in_(OPEN_JOBS) if is_open else Job.state.in_(CLOSED_STATES)
        query = query.where(wanted)
    return list(db.scalars(query))


def change(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Job:
    """Change what is known of a job. Raises ValidationError."""
    audit_log.change(db, by, job, fields.read(SPECIFICATION, values), job=job)
    return job


def change_visit(db: Session, by: Actor, visit: Visit, values: Mapping[str, Any]) -> Visit:
    """Change a head's state, condition or parts on this job. Raises ValidationError."""
    clean = fields.read(VISIT, values)
    if "casting_state" in clean:
        castings.arrived(clean["casting_state"], castings.visits_before(visit))
    counted = clean.pop("parts", None)
    audit_log.change(db, by, visit, clean, job=visit.job)
    if counted is not None:
        received_parts.replace(db, by, visit, counted)
    return visit


def mark_approved(db: Session, by: Actor, job: Job, approved_by: str, approved_how: str) -> Job:
    """Note on a job by whom it was first approved; `approvals.record` says what was."""
    values: dict[str, Any] = {"approved_by": approved_by, "approved_how": approved_how}
    values["approved_at"] = by.at
    if job.state in (JobState.BOOKED_IN, JobState.QUOTED):
        values["state"] = JobState.APPROVED
    audit_log.change(db, by, job, values, job=job, verb="approved")
    return job


def cancel(db: Session, by: Actor, job: Job, reason: str) -> Job:
    """Call a job off; nothing of it is deleted. Raises ValidationError, RuleError."""
    clean = fields.read(
        {"cancel_reason": fields.text(required=True, most=2000)}, {"cancel_reason": reason}
    )
    if not job.is_open or job.is_development:
        raise RuleError(gettext("job {job} is {state} already", job=job.number, state=job.state))
    values = {**clean, "state": JobState.CANCELLED, "closed_at": by.at}
    audit_log.change(db, by, job, values, job=job, verb="cancelled")
    return job


def must_not_be_practice(job: Job) -> None:
    """Refuse a document with a number, or a payment, on a practice job. Raises RuleError."""
    if job.is_practice:
        raise RuleError(
            gettext("job {job} is for practice: preview the document instead", job=job.number)
        )


def untouched(job: Job) -> list[Visit]:
    """Heads of a job on which nothing was done, and nobody has said why."""
    return [visit for visit in job.heads if visit.is_untouched and not visit.untouched_because]


def move(db: Session, by: Actor, job: Job, state: JobState, *, untouched_because: str = "") -> Job:
    """Take a job to another state.

    `untouched_because` is why heads leave on which nothing was done: it is recorded on each.
    Raises ValidationError at `untouched_because` where it is missing; RuleError where the state
    does not follow the job's, where work is left open on a head that is to leave, or where the job
    was to be cancelled without a reason, approved by nobody, or quoted without a quote.
    """
    if state is JobState.CANCELLED:
        raise RuleError(gettext("cancelling needs a reason"))
    if state not in FOLLOWS[job.state]:
        raise RuleError(_does_not_follow(job.state, state))
    if state is JobState.QUOTED and not db.scalar(_QUOTED, {"job_id": job.id}):
        raise RuleError(gettext("a job is quoted by sending its quote"))
    if state is JobState.APPROVED and job.approved_at is None:
        raise RuleError(gettext("approving needs to say who approved, and how"))
    if state in (JobState.READY, JobState.COLLECTED, JobState.SHIPPED):
        unfinished = [visit.tag for visit in job.heads if visit.next_operation is not None]
        stopped = [visit.tag for visit in job.heads if limit_checks.stopping(visit.operations)]
        if stopped:
            raise RuleError(
                gettext(
                    "{stopped} has a result outside its limits or a failed test; decide first how "
                    "to continue",
                    stopped=", ".join(stopped),
                )
            )
        if unfinished:
            raise RuleError(
                gettext(
                    "{unfinished} still has open steps: sign them off or skip them",
                    unfinished=", ".join(unfinished),
                )
            )
        _say_why_untouched(db, by, job, untouched_because)
    closed_at = by.at if state in CLOSED_STATES else None
    if closed_at is None and job.collection is not None:
        job.collection.taken_back_at = by.at
    audit_log.change(db, by, job, {"state": state, "closed_at": closed_at}, job=job, verb="moved")
    return job


def _say_why_untouched(db: Session, by: Actor, job: Job, reason: str) -> None:
    heads = untouched(job)
    if not heads:
        return
    clean = fields.read({"reason": fields.text(most=2000)}, {"reason": reason})
    if not clean["reason"]:
        message = ngettext(
            "Nothing was done on {labels}: enter why the head leaves as it came",
            "Nothing was done on {labels}: enter why the heads leave as they came",
            len(heads),
            labels=", ".join(visit.tag for visit in heads),
        )
        raise ValidationError([FieldError("untouched_because", message)])
    for visit in heads:
        values = {"untouched_because": clean["reason"]}
        audit_log.change(db, by, visit, values, job=job, verb="left untouched")


def close_past(db: Session, by: Actor, job: Job) -> Job:
    """Close a job that left before its records came here: nobody approved or moved it here."""
    audit_log.change(db, by, job, past_values(by.at), job=job, verb="moved")
    return job


def past_values(at: datetime) -> dict[str, Any]:
    """Fields of a past job that one just booked in lacks."""
    return {"state": JobState.COLLECTED, "closed_at": at}


def _does_not_follow(now: JobState, state: JobState) -> str:
    following = [f"'{following_state.value}'" for following_state in FOLLOWS[now]]
    if not following:
        return gettext("after '{now}' no other state follows", now=now)
    return gettext(
        "after '{now}' comes {following}, not '{state}'",
        now=now,
        following=gettext(" or ").join(following),
        state=state,
    )


def where_it_stands(visit: Visit) -> str:
    """State of a head, in the words shown on the floor."""
    step = visit.next_operation
    if step is None:
        return stands(visit.job.state, "", visit.operations)
    return stands(visit.job.state, in_progress(step), visit.operations)


def in_progress(step: Operation) -> str:
    """An open step by its name, and how far it is: it may be begun with nobody clocked on."""
    is_begun = step.state is OperationState.STARTED
    return in_words(step.kind.name, is_begun=is_begun, is_worked_on=bool(step.running))


def in_words(step: str, *, is_begun: bool, is_worked_on: bool) -> str:
    """The name of an open step, and whether it is begun, and someone clocked on to it now."""
    if is_worked_on:
        return gettext("in progress: {step}", step=step)
    return gettext("started: {step}", step=step) if is_begun else gettext("next: {step}", step=step)


def stands(state: JobState, next_step: str, steps: Iterable[Operation]) -> str:
    """The same of a job's state, the next step in words, empty for none, and the steps that may
    have results to decide on."""
    if state in (JobState.BOOKED_IN, JobState.QUOTED):
        is_quoted = state is JobState.QUOTED
        return gettext("waiting for approval") if is_quoted else gettext("to be quoted")
    if state in (*CLOSED_STATES, JobState.READY) or not next_step:
        return translated(state) if state is not JobState.IN_WORK else gettext("all work done")
    if limit_checks.asks_customer(steps):
        return gettext("waiting for the customer's answer")
    stop = limit_checks.stopping(steps)
    if stop is not None:
        results = limit_checks.in_words(limit_checks.undecided(stop))
        return gettext("stopped at {step}: {results}", step=stop.kind.name, results=results)
    return next_step
