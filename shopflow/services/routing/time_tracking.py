"""Time spent on operations: stretches begun and ended, who is on what now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import bindparam, or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Operation, TimeSpent, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

_OF_PERSON = select(TimeSpent).where(
    TimeSpent.person_id == bindparam("person_id"), TimeSpent.ended_at.is_(None)
)


def get(db: Session, stretch_id: int) -> TimeSpent:
    """The stretch of time with this key. Raises NotFoundError."""
    stretch = db.get(TimeSpent, stretch_id)
    if stretch is None:
        raise NotFoundError(gettext("this time entry does not exist"))
    return stretch


def running(db: Session) -> list[TimeSpent]:
    """Periods of work not ended, the longest first, with step, head and job loaded."""
    step = joinedload(TimeSpent.operation, innerjoin=True)
    visit = step.joinedload(Operation.job_head)
    query = (
        select(TimeSpent)
        .where(TimeSpent.ended_at.is_(None))
        .order_by(TimeSpent.started_at, TimeSpent.id)
        .options(step, visit.joinedload(Visit.job), visit.joinedload(Visit.head))
    )
    return list(db.scalars(query))


def of_person(db: Session, by: Actor) -> TimeSpent | None:
    """Period of work that this user is clocked on to."""
    return db.scalars(_OF_PERSON, {"person_id": by.person_id}).one_or_none()


def begin(db: Session, by: Actor, operation: Operation) -> TimeSpent:
    """Let a person's time run on an operation; what they were at before is stopped.

    Raises RuleError where nobody is named, or they are at it already.
    """
    if by.person is None:
        raise RuleError(gettext("nobody is signed in: sign in to take this step"))
    before = of_person(db, by)
    if before is not None:
        if before.operation is operation:
            raise RuleError(gettext("{person} is at this step already", person=by.person.name))
        end(db, by, before)
    stretch = TimeSpent(person=by.person, started_at=by.at)
    operation.stretches.append(stretch)
    audit_log.record(db, by, stretch, "started", job=operation.job_head.job, note=_named(operation))
    return stretch


def end(db: Session, by: Actor, stretch: TimeSpent) -> TimeSpent:
    """Stop a stretch. By a clock set back to before its start it ends at its start, and says so."""
    behind = by.at < stretch.started_at
    stretch.ended_at = max(by.at, stretch.started_at)
    minutes = gettext("{minutes} min", minutes=round(stretch.seconds(by.at) / 60))
    clock = gettext("the clock stood before its start, so nothing is counted") if behind else ""
    note = ", ".join(filter(None, (_named(stretch.operation), minutes, clock)))
    audit_log.record(db, by, stretch, "stopped", job=stretch.operation.job_head.job, note=note)
    return stretch


def end_all(db: Session, by: Actor, operation: Operation) -> None:
    """Stop everyone's time on an operation."""
    for stretch in operation.running:
        end(db, by, stretch)


def end_all_on(db: Session, by: Actor, visit: Visit) -> None:
    """Stop everyone's time on a head."""
    for operation in visit.operations:
        end_all(db, by, operation)


def minutes(operation: Operation, now: datetime) -> int:
    """Whole minutes that everyone together spent on an operation."""
    return round(sum(stretch.seconds(now) for stretch in operation.stretches) / 60)


def left_open(db: Session, stretches: Sequence[TimeSpent], now: datetime) -> list[TimeSpent]:
    """Those of these that run since a day before today, by the shop's clock."""
    here = zone(get_shop(db))
    today = now.astimezone(here).date()
    return [
        stretch
        for stretch in stretches
        if stretch.runs and stretch.started_at.astimezone(here).date() < today
    ]


def correct(db: Session, by: Actor, stretch: TimeSpent, values: Mapping[str, Any]) -> TimeSpent:
    """Put a stretch right: `started_at`, `ended_at` in the shop's time, as "2026-03-05 16:30".

    Raises ValidationError where it would end before it starts, lie in the future, or lie over
    another of the same person.
    """
    moment = _moment(zone(get_shop(db)))
    clean = fields.read(
        {"started_at": moment, "ended_at": moment},
        {"started_at": stretch.started_at, "ended_at": stretch.ended_at, **values},
    )
    start, stop = clean["started_at"], clean["ended_at"]
    faults = _faults(start, stop, by.at)
    if not faults and _overlapping(db, stretch, start, stop):
        faults = [
            FieldError(
                "started_at",
                gettext(
                    "{person} was at something else for some of that time",
                    person=stretch.person.name,
                ),
            )
        ]
    if faults:
        raise ValidationError(faults)
    job = stretch.operation.job_head.job
    audit_log.change(db, by, stretch, clean, job=job, verb="corrected")
    return stretch


def _faults(start: datetime | None, stop: datetime | None, now: datetime) -> list[FieldError]:
    if start is None:
        return [FieldError("started_at", gettext("required: enter a value"))]
    if start > now:
        return [FieldError("started_at", gettext("this is in the future: enter an earlier time"))]
    if stop is None:
        return [
            FieldError("ended_at", gettext("enter when it ended; to continue, resume the step"))
        ]
    if stop < start:
        return [FieldError("ended_at", gettext("this is before the start: enter a later time"))]
    return (
        [FieldError("ended_at", gettext("this is in the future: enter an earlier time"))]
        if stop > now
        else []
    )


def _overlapping(
    db: Session, stretch: TimeSpent, start: datetime, stop: datetime
) -> list[TimeSpent]:
    """The person's other stretches that share time with one from start to stop."""
    query = select(TimeSpent).where(
        TimeSpent.person_id == stretch.person_id,
        TimeSpent.id != stretch.id,
        TimeSpent.started_at < stop,
        or_(TimeSpent.ended_at.is_(None), TimeSpent.ended_at > start),
    )
    return list(db.scalars(query))


def _moment(here: ZoneInfo) -> fields.Reader:
    def reader(value: Any) -> datetime | None:
        if value is None or value == "":
            return None
        if isinstance(value, datetime):
            return value
        try:
            moment = datetime.fromisoformat(str(value).strip())
        except ValueError:
            raise ValueError(
                gettext(
                    "'{value}' is not a date and time: enter it like 2026-03-14 16:30", value=value
                )
            ) from None
        return moment if moment.tzinfo else moment.replace(tzinfo=here)

    return reader


def _named(operation: Operation) -> str:
    return f"{operation.kind.name}, {operation.job_head.tag}"
