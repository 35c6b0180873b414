"""A practice job: worked on like any other, and thrown away whole.

It takes none of the shop's numbers, and nothing that has a number of its own is issued on it:
quotes, invoices and certificates are previewed, payments are not recorded. So it can be deleted
with all that hangs on it, which no other job ever is.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, Table, delete, select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Customer, EngineType, Event, Head, Job, name_stamp
from shopflow.models.base import Base
from shopflow.models.job import PRACTICE_NUMBER
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.registry import customers, engine_types
from shopflow.services.routing import operations
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext

STEPS = (
    ("inspection", "40.00"),
    ("seat-cut", "160.00"),
    ("flow-test", "75.00"),
    ("assembly", "90.00"),
)
"""Kinds of its steps, each with its price."""

Doomed = dict[Table, set[int]]
"""Keys of the rows to delete, by their table."""


def find(db: Session) -> Job | None:
    """The practice job; none where nobody practices."""
    return db.scalars(select(Job).where(Job.is_practice)).one_or_none()


def begin(db: Session, by: Actor) -> Job:
    """Book a practice job in, with a customer, an engine type and a head of its own.

    Raises RuleError where there is one already.
    """
    if find(db) is not None:
        raise RuleError(gettext("there is a practice job already: discard it before you begin"))
    customer = customers.create(db, by, {"name": gettext("Practice customer")})
    engine_type = engine_types.create(
        db,
        by,
        {"builder": gettext("Practice"), "family": gettext("four-cylinder"), "cylinders": "4"},
    )
    job = Job(number=PRACTICE_NUMBER, customer=customer, booked_in_at=by.at, is_practice=True)
    job.asked_for = gettext("Try every screen here. Discard this job when you are done.")
    db.add(job)
    audit_log.record(db, by, job, "booked in", job=job)
    visit = booking.add_head(
        db, by, job, engine_type, {"casting_number": PRACTICE_NUMBER, "serial": "1"}
    )
    for code, price in STEPS:
        kind = operations.kind_by_code(db, code)
        operations.add(db, by, visit, kind.id, {"price": price, "planned_minutes": "30"})
    return job


def discard(db: Session, by: Actor, job: Job) -> None:
    """Delete a practice job whole: all that hangs on it, its customer, engine type and head.

    Raises RuleError where the job is no practice job, or a real job's records hang on it.
    """
    if not job.is_practice:
        raise RuleError(gettext("job {job} is real work: it stays on record", job=job.number))
    heads = [visit.head for visit in job.heads]
    roots: list[Base] = [job, job.customer, *heads, *{head.engine_type for head in heads}]
    doomed: Doomed = {}
    for row in roots:
        doomed.setdefault(row.__table__, set()).add(row.id)  # type: ignore[attr-defined, arg-type]
    for table in list(doomed):
        _follow(db, doomed, table)
    others = doomed[Job.__table__] - {job.id} or doomed[Head.__table__] - {h.id for h in heads}  # type: ignore[index]
    if others:
        raise RuleError(gettext("its customer, engine type or head is in use on another job"))
    db.flush()
    _delete(db, doomed)
    db.expire_all()
    for name in (Customer.__tablename__, EngineType.__tablename__):
        name_stamp.renew(db.connection(), name)
    audit_log.record(db, by, get_shop(db), "practice job discarded")


def _follow(db: Session, doomed: Doomed, table: Table) -> None:
    """Add the rows that refer to a table's doomed rows, and those that refer to them in turn."""
    for column in _references_to(table):
        if "id" not in column.table.c:
            continue
        keys = set(db.scalars(select(column.table.c.id).where(column.in_(doomed[table]))))
        before = doomed.setdefault(column.table, set())
        if keys - before:
            before |= keys
            _follow(db, doomed, column.table)


def _references_to(table: Table) -> Iterator[Column[Any]]:
    for other in Base.metadata.sorted_tables:
        for column in other.columns:
            if column.references(table.c.id):
                yield column


def _delete(db: Session, doomed: Doomed) -> None:
    for table, keys in doomed.items():
        db.execute(delete(Event).where(Event.subject == table.name, Event.subject_id.in_(keys)))
    for table in reversed(Base.metadata.sorted_tables):
        for key in table.foreign_keys:
            if "id" not in table.c and key.column.table in doomed:
                db.execute(table.delete().where(key.parent.in_(doomed[key.column.table])))
        if table in doomed:
            db.execute(table.delete().where(table.c.id.in_(doomed[table])))
