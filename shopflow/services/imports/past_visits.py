"""Past jobs that a file makes: their heads are booked in at the day of their first row."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from datetime import datetime

from sqlalchemy.orm import Session

from shopflow.models import Head, Visit
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.imports.file_heads import FileHead, FileJob
from shopflow.services.imports.heads import HeadKey, head_key
from shopflow.services.imports.parties import Party
from shopflow.services.jobs import jobs


def parties(wanted: Iterable[FileJob]) -> Iterable[Party]:
    """Customers of the new jobs and engine types of the new heads among these."""
    for job in wanted:
        if job.row is None and job.customer is not None:
            yield job.customer
        yield from (head.engine for head in job.heads if head.row is None)


def days(job: FileJob) -> list[datetime]:
    """Days of a job's rows, as typed."""
    return [day for head in job.heads for day in head.days]


def make(
    db: Session,
    by: Actor,
    job: FileJob,
    castings: dict[HeadKey, list[Head]],
    in_utc: Callable[[datetime], datetime],
) -> None:
    """Book a past job's heads in at the day of its first row, and close it.

    `castings` are the heads on file, to which new ones are added; `in_utc` takes a day as typed.
    """
    moments = [in_utc(day) for day in days(job)]
    then = Actor(by.person, min(moments, default=by.at))
    used: set[Head] = set()
    for head in job.heads:
        if head.row is None:
            head.row = _taken_in(db, then, castings, head, used)
            used.add(head.row.head)
    if job.row is not None and job.row.is_open and job.row.earlier_number == job.number:
        jobs.close_past(db, Actor(by.person, max(moments, default=by.at)), job.row)


def _taken_in(
    db: Session,
    then: Actor,
    castings: dict[HeadKey, list[Head]],
    head: FileHead,
    used: Collection[Head],
) -> Visit:
    job, engine = head.job, head.engine.row
    key = head_key(head.engine, head.casting)
    recorded = next(
        (row for row in castings.get(key, ()) if row not in used and _is_theirs(row, job)), None
    )
    if recorded is not None and recorded.id is None:
        # One that this file made for an earlier job.
        db.flush()
    values = {**head.casting, **({"head_id": recorded.id} if recorded else {})}
    if job.row is not None:
        visit = booking.add_head(db, then, job.row, engine, values, is_past=True)
    else:
        customer = job.customer.row.id if job.customer else None
        form = booking.BookIn(
            heads=[values], customer_id=customer, engine_type_id=engine.id, is_past=True
        )
        job.row = booking.book_in(db, then, form)
        job.row.earlier_number = job.number
        visit = job.row.heads[0]
    if recorded is None:
        castings.setdefault(key, []).append(visit.head)
    return visit


def _is_theirs(head: Head, job: FileJob) -> bool:
    """True where a recorded head is the job's: by its serial, or as one of its customer's."""
    if head.serial:
        return True
    owner = job.row.customer if job.row else job.customer and job.customer.row
    return bool(head.casting_number) and any(term.customer is owner for term in head.owners)
