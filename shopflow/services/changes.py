"""Changes of records since a cursor, in the order of their commits, for programs that keep a copy.

The record log already holds an entry for each version of a row, appended in the transaction that
wrote the row. Its head is locked from the first entry of a transaction to its commit, so a number
is never committed after a higher one: on PostgreSQL, where rows of a sequence are, a reader would
skip what was given a number earlier and committed later. Here every entry up to the head's size is
there, and the size is the next cursor.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import Certificate, Job, RecordLogEntry, RecordLogHead

READ = {
    "bench_session": "flow test",
    "cam": "cam",
    "certificate": "certificate",
    "customer": "customer",
    "engine_type": "engine type",
    "head": "head",
    "integrity_test": "integrity test",
    "job": "job",
    "job_file": "file",
    "job_head": "visit",
    "measurement": "measurement",
    "operation": "step",
    "seat_profile": "seat profile",
    "spring": "spring",
}
"""Tables whose changes are told, with the name that programs know the record by."""

MONEY = {"invoice": "invoice", "job_line": "line", "payment": "payment", "quote": "quote"}
"""Those told only to programs that may see money."""


@dataclass(frozen=True, slots=True)
class Change:
    """One version of a record; `number` is its place among all changes."""

    number: int
    kind: str
    key: int
    act: str
    """Added, changed or removed."""

    name: tuple[str, ...] = ()
    """Number of a job, or number and revision of a certificate, by which its address is made."""


@dataclass(frozen=True, slots=True)
class Changes:
    """Some changes in their order, and the cursor to ask for those after them with."""

    items: Sequence[Change]
    cursor: int
    is_last: bool


def since(db: Session, cursor: int, kinds: Mapping[str, str], limit: int) -> Changes:
    """The changes of some tables after a cursor; 0 stands before the first one."""
    # Read first: every entry up to it is committed, and none of them is given later.
    size = db.scalar(select(RecordLogHead.size)) or 0
    entry = RecordLogEntry
    wanted = entry.subject.in_(kinds), entry.number > cursor, entry.number <= size
    rows = db.scalars(select(entry).where(*wanted).order_by(entry.number).limit(limit + 1)).all()
    is_last = len(rows) <= limit
    rows = rows[:limit]
    names = _names(db, rows)
    items = [
        Change(
            row.number,
            kinds[row.subject],
            int(row.subject_key),
            _act(row),
            names.get((row.subject, int(row.subject_key)), ()),
        )
        for row in rows
    ]
    return Changes(items, max(size, cursor) if is_last else rows[-1].number, is_last)


def latest(db: Session) -> int:
    """The cursor behind the last change."""
    return db.scalar(select(func.max(RecordLogHead.size))) or 0


def _act(row: RecordLogEntry) -> str:
    if row.digest is None:
        return "removed"
    return "added" if row.replaces is None else "changed"


def _names(db: Session, rows: Collection[RecordLogEntry]) -> dict[tuple[str, int], tuple[str, ...]]:
    """Numbers of jobs and certificates among the changes, by table and key."""
    keys = {
        table: {int(row.subject_key) for row in rows if row.subject == table}
        for table in ("job", "certificate")
    }
    jobs = select(Job.id, Job.number).where(Job.id.in_(keys["job"]))
    certificates = select(Certificate.id, Certificate.number, Certificate.revision).where(
        Certificate.id.in_(keys["certificate"])
    )
    names: dict[tuple[str, int], tuple[str, ...]] = {}
    for key, number in db.execute(jobs):
        names["job", key] = (number,)
    for key, number, revision in db.execute(certificates):
        names["certificate", key] = (number, str(revision))
    return names
