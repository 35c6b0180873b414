"""5,000 past jobs with 50 planted faults: exactly those are reported, and nothing is written.

The faults are planted by row and column before the file is read; what is reported is compared
with what was planted, not with the program's own word.
"""

from __future__ import annotations

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import Base, BenchSession, Customer, EngineType, Event, Head, Job, Reading
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan
from shopflow.services.imports.reading import Writing
from tests import factories
from tests.services.imports.files import AIR, csv_of, past_jobs

pytestmark = pytest.mark.slow

COUNT = 5000
PLANTED = [
    ("job", ""),
    ("job", "9" * 61),
    ("customer", ""),
    ("customer", "x" * 201),
    ("side", ""),
    ("side", "inlet"),
    ("date", "31/05/2019"),
    ("date", "2019-02-30"),
    ("date", "May 2019"),
    ("date", ""),
    ("valve diameter", "44"),
    ("valve diameter", "44 parsec"),
    ("valve diameter", "-44 mm"),
    ("valve diameter", "44 kPa"),
    ("test pressure", "28"),
    ("test pressure", "0 inH2O"),
    ("test pressure", "28 mm"),
    ("engine cylinders", "four"),
    ("flow unit", "cfn"),
    ("0.100 in", "n/a"),
    ("0.300 in", "-12.0"),
    ("0.300 in", "12,5"),
    ("0.600 in", "1e999"),
    ("0.050 in", "0x1F"),
    ("serial", "s" * 101),
]
"""A column and what is written in it, each a fault of that cell alone; each is planted twice."""


def plan(db: Session, rows: list[dict[str, str]]) -> Plan:
    return kinds.plan(db, kinds.get("results"), csv_of(rows), Writing(), Air(**AIR))


def count(db: Session, model: type[Base]) -> int:
    return db.scalar(select(func.count()).select_from(model)) or 0


def planted(rows: list[dict[str, str]]) -> tuple[list[dict[str, str]], set[tuple[int, str]]]:
    """The rows with 50 faults in 50 of them, and where: row 1 holds the headings."""
    rows = [dict(row) for row in rows]
    places = set()
    for number, (column, typed) in enumerate(PLANTED * 2):
        place = 7 + number * 97
        rows[place][column] = typed
        if column == "engine cylinders":
            # Asked for only where the type is new.
            rows[place]["family"] = f"Q{number}"
        places.add((place + 2, column))
    return rows, places


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    return past_jobs(COUNT)


def test_the_planted_faults_and_no_other_are_reported_and_nothing_is_written(
    db: Session, rows: list[dict[str, str]]
):
    factories.shop_or_none(db)
    faulty, places = planted(rows)
    faults = plan(db, faulty).faults
    assert len(places) == 50
    assert sorted((fault.row, fault.column) for fault in faults) == sorted(places)
    assert (count(db, Job), count(db, Customer), count(db, Head)) == (0, 0, 0)


def test_once_mended_all_is_written_and_again_changes_nothing(
    db: Session, rows: list[dict[str, str]]
):
    factories.shop_or_none(db)
    # PostgreSQL writes the same in the same way; a fifth of it tells as much there.
    total = COUNT if db.get_bind().dialect.name == "sqlite" else COUNT // 5
    rows = rows[:total]
    mended = plan(db, rows)
    assert not mended.faults
    assert mended.counts == {"new past job": total}
    mended.carry_out(db, factories.BY)
    db.expire_all()
    assert count(db, Job) == count(db, Head) == count(db, BenchSession) == total
    assert (count(db, Customer), count(db, EngineType)) == (400, 60)
    assert count(db, Reading) == total * 12
    logged = count(db, Event)
    again = plan(db, rows)
    assert not again.faults
    assert again.changes_nothing
    again.carry_out(db, factories.BY)
    assert count(db, Job) == count(db, BenchSession) == total
    assert count(db, Event) == logged
