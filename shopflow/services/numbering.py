"""Numbers that never repeat, for jobs and papers."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from shopflow.models import Counter


def next_number(db: Session, series: str, year: int) -> int:
    """The next whole number of a series in a year; see `next_numbers`."""
    return next_numbers(db, series, year, 1)[0]


def coming_number(db: Session, series: str, year: int) -> int:
    """The number that `next_number` would give just now; another writer may take it first."""
    taken = db.scalars(
        select(Counter.last).where(Counter.series == series, Counter.year == year)
    ).one_or_none()
    return (taken or 0) + 1


def next_numbers(db: Session, series: str, year: int, count: int) -> range:
    """So many whole numbers of a series in a year, one after another.

    The row stays locked until the transaction ends, so two writers never get the same number.
    """
    insert = sqlite.insert if db.get_bind().dialect.name == "sqlite" else postgresql.insert
    statement = (
        insert(Counter)
        .values(series=series, year=year, last=count)
        .on_conflict_do_update(
            index_elements=[Counter.series, Counter.year], set_={"last": Counter.last + count}
        )
        .returning(Counter.last)
    )
    last = db.scalars(statement, execution_options={"populate_existing": True}).one()
    return range(last - count + 1, last + 1)
