"""Writing and reading the log of changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from enum import Enum
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session, selectinload

from shopflow.models import Base, Event, Job
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.bulk_insert import insert_rows
from shopflow.texts import gettext

UNSPOKEN = frozenset({"logo", "password_hash", "password_sealed", "pdf", "snapshot"})
"""Fields whose values never go into the log."""

_Deferred = tuple[dict[str, Any], Base, Job | None]
_DEFERRED = "events deferred"


def record(
    db: Session,
    by: Actor,
    row: Base,
    verb: str,
    *,
    job: Job | None = None,
    note: str = "",
    changes: Mapping[str, list[str]] | None = None,
) -> None:
    """Log one act on one record; flushes first, so that a new one has its key, but see `held`."""
    act = {
        "at": by.at,
        "person_id": by.person_id,
        "subject": row.__tablename__,
        "verb": verb,
        "note": noted(note, gettext("by token {name}", name=by.program) if by.program else ""),
        "changes": dict(changes or {}),
    }
    waiting: list[_Deferred] | None = db.info.get(_DEFERRED)
    if waiting is not None:
        waiting.append((act, row, job))
        return
    db.flush()
    db.add(Event(**act, **_about(row, job)))


@contextmanager
def deferred(db: Session, by: Actor, note: str = "") -> Iterator[None]:
    """Log all acts within in one go at the end, as done now by the user who imports the records.

    One flush for many records: each act would else cost one of its own.
    """
    waiting: list[_Deferred] = []
    db.info[_DEFERRED] = waiting
    try:
        with db.no_autoflush:
            yield
    finally:
        del db.info[_DEFERRED]
    db.flush()
    done_now = {"at": by.at, "person_id": by.person_id}
    values = [
        {
            **act,
            **_about(row, job),
            **done_now,
            "note": noted(act["note"], note),
        }
        for act, row, job in waiting
    ]
    if values:
        names = tuple(values[0])
        insert_rows(db, Event, names, [tuple(event[name] for name in names) for event in values])


def noted(*words: str) -> str:
    """Note of an event, joined from several texts."""
    return "; ".join(filter(None, words))


def _about(row: Base, job: Job | None) -> dict[str, Any]:
    """Keys of an event's subject and job, once these have them."""
    return {
        "subject_id": row.id,  # type: ignore[attr-defined]
        "job_id": job.id if job is not None else None,
    }


def change(
    db: Session,
    by: Actor,
    row: Base,
    values: Mapping[str, Any],
    *,
    job: Job | None = None,
    verb: str = "changed",
    note: str = "",
) -> dict[str, list[str]]:
    """Set a record's fields and log from what to what; says nothing where nothing differs."""
    # All is read before any is set: what is read late is flushed to, half changed.
    before = {name: getattr(row, name) for name in values}
    changes: dict[str, list[str]] = {}
    for name, value in values.items():
        if not _alike(before[name], value):
            setattr(row, name, value)
            spoken = ["", ""] if name in UNSPOKEN else [in_words(before[name]), in_words(value)]
            changes[name] = spoken
    if changes:
        record(db, by, row, verb, job=job, note=note, changes=changes)
    return changes


def _alike(before: Any, value: Any) -> bool:
    """Tell whether nothing changed: text kept by earlier versions may have other line ends."""
    if isinstance(before, str) and isinstance(value, str):
        return fields.line_ends(before).strip() == value.strip()
    return bool(before == value)


def of_job(db: Session, job: Job) -> list[Event]:
    """Everything logged on a job, and on its castings while it was open, latest first."""
    castings = and_(
        Event.subject == "head",
        Event.subject_id.in_([visit.head_id for visit in job.heads]),
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
    """The last event that changed this field of a record; its last event at all where none did."""
    query = (
        select(Event)
        .where(Event.subject == subject, Event.subject_id == subject_id)
        .order_by(Event.id.desc())
        .options(selectinload(Event.person))
    )
    events = list(db.scalars(query))
    return next((event for event in events if name in event.changes), events[0] if events else None)


def in_words(value: Any) -> str:
    """A field's value as the log says it."""
    if value is None:
        return ""
    return str(value.value if isinstance(value, Enum) else value)
