"""Search text of a visit, folded into one row and renewed with its sources."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    ForeignKey,
    Index,
    Text,
    delete,
    event,
    insert,
    inspect,
    or_,
    select,
    true,
)
from sqlalchemy.orm import Mapped, Session, UOWTransaction, mapped_column

from shopflow.models.base import Base, UtcDateTime
from shopflow.models.folding import bare, plain
from shopflow.models.head import Head
from shopflow.models.job import Job, Visit
from shopflow.models.operation import Operation
from shopflow.models.session import BenchSession

SOURCES: dict[type[Base], frozenset[str]] = {
    Job: frozenset(
        {"number", "earlier_number", "customer_id", "booked_in_at", "asked_for", "notes"}
    ),
    Visit: frozenset({"job_id", "head_id", "tag", "condition", "came_back_because"}),
    Head: frozenset({"engine_type_id", "casting_number", "serial", "notes"}),
    Operation: frozenset({"job_head_id", "notes"}),
    BenchSession: frozenset({"job_head_id", "notes", "withdrawn_at"}),
}
"""The columns it is made of: a flush that writes one of them renews the row."""

_LEADS_TO: dict[type[Base], tuple[str, str]] = {
    Job: ("job_id", "id"),
    Visit: ("id", "id"),
    Head: ("head_id", "id"),
    Operation: ("id", "job_head_id"),
    BenchSession: ("id", "job_head_id"),
}
"""The column of Visit that a record's own column points to."""

TRIGRAMS = "lookup_trigrams"
"""The index of the texts' trigrams: in SQLite a table of FTS5, its own tables named after it.

It is made by the migrations and kept by triggers in SQLite, by the database in PostgreSQL.
"""


class LookupText(Base):
    """A visit's keys, numbers and notes; never written but by `renew`."""

    __tablename__ = "lookup_text"
    __table_args__ = (
        Index(None, "engine_type_id", "booked_in_at"),
        Index(None, "customer_id", "booked_in_at"),
    )

    job_head_id: Mapped[int] = mapped_column(
        ForeignKey("job_head.id", ondelete="CASCADE"), primary_key=True
    )
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    customer_id: Mapped[int] = mapped_column(ForeignKey("customer.id"))
    booked_in_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    numbers: Mapped[str] = mapped_column(Text)
    """Casting number, serial, tag and earlier number, each `bare`, with spaces between."""

    notes: Mapped[str] = mapped_column(Text)
    """Whatever was asked for or noted, `plain`, a line each."""


def numbers(casting_number: str, serial: str, tag: str, earlier: str | None) -> str:
    """The numbers of a stay as they are kept; the job's begins the tag's."""
    return " ".join(bare(number) for number in (casting_number, serial, tag, earlier or ""))


def renew(connection: Connection, chosen: ColumnElement[bool]) -> None:
    """Renew the search texts of the chosen visits; the clause may refer to Visit."""
    # Two who change one stay go one after the other, so that the later sees what the earlier did.
    connection.execute(select(Visit.id).where(chosen).order_by(Visit.id).with_for_update())
    visits = (
        select(
            Visit.id, Head.engine_type_id, Job.customer_id, Job.booked_in_at,
            Head.casting_number, Head.serial, Visit.tag, Job.earlier_number,
            Job.asked_for, Job.notes, Visit.condition, Visit.came_back_because, Head.notes,
        )
        .join(Job, Visit.job_id == Job.id)
        .join(Head, Visit.head_id == Head.id)
        .where(chosen)
    )  # fmt: skip
    later = _later_notes(connection, chosen)
    rows = [
        {
            "job_head_id": key,
            "engine_type_id": engine_type,
            "customer_id": customer,
            "booked_in_at": booked_in,
            "numbers": numbers(casting, serial, tag, earlier),
            "notes": "\n".join(plain(note) for note in (*notes, *later.get(key, ())) if note),
        }
        for key, engine_type, customer, booked_in, casting, serial, tag, earlier, *notes
        in connection.execute(visits)
    ]  # fmt: skip
    if rows:
        visit_ids = [row["job_head_id"] for row in rows]
        connection.execute(delete(LookupText).where(LookupText.job_head_id.in_(visit_ids)))
        added = insert(LookupText)
        # SQLite writes its index down at the end of each statement: RETURNING puts many rows into
        # one, where the library knows it (3.35).
        if connection.dialect.insert_executemany_returning:
            added = added.returning(LookupText.job_head_id)
        connection.execute(added, rows)


def _later_notes(connection: Connection, chosen: ColumnElement[bool]) -> dict[int, list[str]]:
    """Notes of each visit's steps and tests; a test's only while it counts."""
    notes: dict[int, list[str]] = {}
    sources = (Operation, true()), (BenchSession, BenchSession.counts)
    for source, counts in sources:
        query = (
            select(source.job_head_id, source.notes)
            .join(Visit, source.job_head_id == Visit.id)
            .where(source.notes != "", counts, chosen)
            .order_by(source.id)
        )
        for key, note in connection.execute(query):
            notes.setdefault(key, []).append(note)
    return notes


@event.listens_for(Session, "after_flush")
def _renew_what_was_flushed(session: Session, context: UOWTransaction) -> None:
    """Keep the rows true in the transaction that changes what they are made of."""
    clauses = list(_stays_touched(session))
    if clauses:
        renew(session.connection(), or_(*clauses))


def _stays_touched(session: Session) -> list[ColumnElement[bool]]:
    """Clauses on Visit that lead from the records written to their visits, one for each column."""
    keys: dict[str, set[int]] = {}
    for row in (*session.new, *session.dirty, *session.deleted):
        if type(row) in SOURCES and _is_written(session, row):
            column, key = _LEADS_TO[type(row)]
            keys.setdefault(column, set()).add(getattr(row, key))
    return [getattr(Visit, column).in_(ids) for column, ids in keys.items()]


def _is_written(session: Session, row: Any) -> bool:
    """True where a record's flush changes the search text of a visit."""
    if row in session.dirty:
        changes = inspect(row).attrs
        return any(changes[name].history.has_changes() for name in SOURCES[type(row)])
    # A new or lost step or test without a note changes nothing.
    return isinstance(row, Visit) or bool(getattr(row, "notes", ""))
