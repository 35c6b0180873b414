"""Status of castings: in use, spare, scrapped, sold or returned; spares offered for jobs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import OPEN_STATES, EngineType, Head, HeadStatus, Job, Visit
from shopflow.models.head import GONE
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.registry import heads
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "status": fields.one_of(HeadStatus),
    "reason": fields.text(),
}


def set_status(db: Session, by: Actor, head: Head, status: str, reason: str) -> Head:
    """Set the status of a casting; what it was stays in the log.

    A reason is needed to scrap, sell or return it, and to take it back from any of these. A spare
    is the shop's own: its owner's term ends. Raises ValidationError; RuleError where nothing would
    change, or a head on an open job would become a spare or be sold.
    """
    clean = fields.read(SPECIFICATION, {"status": status, "reason": reason})
    to: HeadStatus = clean["status"]
    if to is head.status:
        raise RuleError(gettext("this casting is {status} already", status=to))
    if not clean["reason"] and (to in GONE or head.status in GONE):
        raise ValidationError([FieldError("reason", gettext("required: say why"))])
    job = open_job(db, head)
    if job is not None and to in (HeadStatus.SPARE, HeadStatus.SOLD):
        raise RuleError(
            gettext(
                "this casting is on job {job}: close the job before you change it to {status}",
                job=job.number,
                status=to,
            )
        )
    if to is HeadStatus.SPARE:
        heads.end_ownership(by, head)
    _set(db, by, head, to, clean["reason"], job)
    return head


def put_in_use(db: Session, by: Actor, head: Head, job: Job) -> None:
    """Put a casting that is booked in on a job back in use.

    Raises ValidationError at `serial` where it was scrapped.
    """
    if head.status is HeadStatus.SCRAPPED:
        message = gettext(
            "{head} was scrapped ({reason}): book in another casting, or put this one back in use "
            "on its page",
            head=head.identity,
            reason=head.status_because,
        )
        raise ValidationError([FieldError("serial", message)])
    if head.status is not HeadStatus.IN_USE:
        _set(db, by, head, HeadStatus.IN_USE, gettext("booked in on a job"), job)


def add_spare(
    db: Session, by: Actor, engine_type: EngineType, values: Mapping[str, Any], source: str
) -> Head:
    """Record a casting of the shop's own as a spare; `source` is where it is from.

    Raises ValidationError.
    """
    clean = fields.read({"source": fields.text()}, {"source": source})
    if not values.get("casting_number") and not values.get("serial"):
        message = gettext("Enter the casting number or the serial")
        raise ValidationError([FieldError("casting_number", message)])
    head = heads.create(db, by, engine_type, None, values)
    _set(db, by, head, HeadStatus.SPARE, clean["source"], None)
    return head


def spares(db: Session, engine_type: EngineType | None = None) -> list[Head]:
    """The shop's spare castings, by engine type; of one type where it is given."""
    query = (
        select(Head)
        .join(Head.engine_type)
        .where(Head.status == HeadStatus.SPARE)
        .order_by(EngineType.builder, EngineType.family, Head.id)
        .options(joinedload(Head.engine_type), joinedload(Head.offered_job))
    )
    if engine_type is not None:
        query = query.where(Head.engine_type_id == engine_type.id)
    return list(db.scalars(query))


def spares_for(db: Session, job: Job) -> list[Head]:
    """Spares of the engine types of a job's heads, but those offered for another job."""
    types = {visit.head.engine_type_id for visit in job.heads}
    query = (
        select(Head)
        .where(
            Head.status == HeadStatus.SPARE,
            Head.engine_type_id.in_(types),
            or_(Head.offered_job_id.is_(None), Head.offered_job_id == job.id),
        )
        .order_by(Head.id)
    )
    return list(db.scalars(query))


def open_job(db: Session, head: Head) -> Job | None:
    """The open job a casting is on; none where it is on none."""
    query = (
        select(Job)
        .join(Job.heads)
        .where(Visit.head_id == head.id, Job.state.in_(OPEN_STATES))
        .order_by(Job.id.desc())
    )
    return db.scalars(query).first()


def jobs_for(db: Session, head: Head) -> list[Job]:
    """Open jobs with a head of the casting's engine type, the latest first."""
    query = (
        select(Job)
        .where(
            Job.state.in_(OPEN_STATES),
            Job.heads.any(Visit.head.has(Head.engine_type_id == head.engine_type_id)),
        )
        .order_by(Job.booked_in_at.desc())
        .options(joinedload(Job.customer))
    )
    return list(db.scalars(query))


def offer(db: Session, by: Actor, head: Head, job: Job) -> None:
    """Offer a spare for a job with a head of its engine type. Raises RuleError."""
    _must_be_spare(head)
    if job not in jobs_for(db, head):
        raise RuleError(
            gettext(
                "job {job} has no head of this engine type, or is closed: choose another job",
                job=job.number,
            )
        )
    _offer(db, by, head, job, "offered")


def withdraw_offer(db: Session, by: Actor, head: Head) -> None:
    """Withdraw the offer of a spare. Raises RuleError where it is not offered."""
    if head.offered_job is None:
        raise RuleError(gettext("this casting is not offered for a job"))
    _offer(db, by, head, None, "no longer offered")


def _must_be_spare(head: Head) -> None:
    if head.status is not HeadStatus.SPARE:
        raise RuleError(gettext("this casting is {status}, not a spare", status=head.status))


def _offer(db: Session, by: Actor, head: Head, job: Job | None, verb: str) -> None:
    about = job or head.offered_job
    note = about.number if about else ""
    head.offered_job = job
    audit_log.record(db, by, head, verb, job=about, note=note)


def _set(
    db: Session, by: Actor, head: Head, status: HeadStatus, reason: str, job: Job | None
) -> None:
    values = {
        "status": status,
        "status_because": reason,
        "status_at": by.at,
        "status_by_id": by.person_id,
        "offered_job_id": None,
    }
    audit_log.change(db, by, head, values, job=job, verb=status.value, note=reason)
    db.flush()
    db.expire(head, ["offered_job"])
