"""Writing and reading the log of changes."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session, selectinload

from shopflow.models import Base, Event, Job
from shopflow.services.actor import Actor

UNSPOKEN = frozenset(
    {"logo", "password_hash", "password_sealed", "pdf", "snapshot", "sign_in_series"}
)
"""Fields whose values never go into the log."""


def record(
    db: Session,
    by: Actor,
    row: Base,
    verb: str,
    *,
    job: Job | None = None,
    note: str = "",
    changes: Mapping[str, list[str]] | None = None,
) -> Event:
    """Log one act on one record; flushes first, so that a new record has its key."""
    db.flush()
    event = Event(
        at=by.at,
        person_id=by.person_id,
        job_id=job.id if job is not None else None,
        subject=row.__tablename__,
        subject_id=row.id,  # type: ignore[attr-defined]
        verb=verb,
        note=note,
        changes=dict(changes or {}),
    )
    db.add(event)
    return event


def change(
    db: Session,
    by: Actor,
    row: Base,
    values: Mapping[str, Any],
    *,
    job: Job | None = None,
    verb: str = "changed",
) -> dict[str, list[str]]:
    """Set a record's fields and log from what to what; says nothing where nothing differs."""
    changes: dict[str, list[str]] = {}
    for name, value in values.items():
        before = getattr(row, name)
        if before != value:
            setattr(row, name, value)
            spoken = ["", ""] if name in UNSPOKEN else [_words(before), _words(value)]
            changes[name] = spoken
    if changes:
        record(db, by, row, verb, job=job, changes=changes)
    return changes


def of_job(db: Session, job: Job) -> list[Event]:
    """Everything logged on a job, and on its castings while it was open, latest first."""
    castings = and_(
        Event.subject == "head",
        Event.subject_id.in_([stay.head_id for stay in job.heads]),
        Event.at >= job.booked_in_at,
        *([Event.at <= job.closed_at] if job.closed_at else []),
    )
    query = (
        select(Event)
        .where(or_(Event.job_id == job.id, castings))
        .order_by(Event.at.desc(), Event.id.desc())
        .options(selectinload(Event.person))
    )
    return list(db.scalars(query))


def of_record(db: Session, row: Base) -> list[Event]:
    """Everything logged on one record, latest first."""
    query = (
        select(Event)
        .where(
            Event.subject == row.__tablename__,
            Event.subject_id == row.id,  # type: ignore[attr-defined]
        )
        .order_by(Event.at.desc(), Event.id.desc())
        .options(selectinload(Event.person))
    )
    return list(db.scalars(query))


def latest(db: Session, subject: str, subject_id: int, name: str) -> Event | None:
    """The last act that changed this field of a record; the last on the record where none did."""
    query = (
        select(Event)
        .where(Event.subject == subject, Event.subject_id == subject_id)
        .order_by(Event.id.desc())
        .options(selectinload(Event.person))
    )
    found = list(db.scalars(query))
    return next((one for one in found if name in one.changes), found[0] if found else None)


def _words(value: Any) -> str:
    if value is None:
        return ""
    return str(value.value if isinstance(value, Enum) else value)
