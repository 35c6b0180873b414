"""Changes since a cursor: in the order of commits, with none left out under concurrent writers."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from shopflow.database import READ_ONLY, open_engine, session_factory, upgrade
from shopflow.models import Customer, RecordLogEntry
from shopflow.services import changes
from tests import factories
from tests.postgres import Server

WRITERS, COMMITS = 6, 12


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(
    request: pytest.FixtureRequest, migrated_file: Path, postgres: Server, tmp_path: Path
) -> Iterator[Engine]:
    """A database of its own, whose commits are kept and so in the log."""
    if request.param == "sqlite":
        shutil.copyfile(migrated_file, tmp_path / "shop.db")
        opened = open_engine(f"sqlite:///{tmp_path / 'shop.db'}")
        yield opened
        opened.dispose()
        return
    with postgres.database() as url:
        opened = open_engine(url)
        upgrade(opened)
        yield opened
        opened.dispose()


@pytest.fixture
def db(engine: Engine) -> Iterator[Session]:
    with session_factory(engine)() as session:
        yield session


def test_changes_come_in_order_and_end_at_the_cursor(db: Session):
    start = changes.latest(db)
    first = factories.create_customer(db)
    db.commit()
    first.notes = "changed"
    db.commit()
    seen = changes.since(db, start, changes.READ, 50)
    assert [(item.kind, item.key, item.act) for item in seen.items] == [
        ("customer", first.id, "added"),
        ("customer", first.id, "changed"),
    ]
    assert seen.is_last
    assert changes.since(db, seen.cursor, changes.READ, 50).items == []
    page = changes.since(db, start, changes.READ, 1)
    assert (len(page.items), page.is_last) == (1, False)
    assert changes.since(db, page.cursor, changes.READ, 1).items == [seen.items[1]]


def test_no_change_is_skipped_while_others_write(engine: Engine, db: Session):
    """A reader that follows the cursor meets every version that was committed, once."""
    start = changes.latest(db)
    db.rollback()
    make = session_factory(engine)
    reading = session_factory(engine.execution_options(**READ_ONLY))
    done = threading.Event()
    seen: list[changes.Change] = []

    def write() -> None:
        for _ in range(COMMITS):
            with make.begin() as own:
                factories.create_customer(own)

    def follow() -> None:
        cursor, is_over = start, False
        while not is_over:
            is_over = done.is_set()
            with reading() as own:
                page = changes.since(own, cursor, changes.READ, 1_000)
            cursor = page.cursor
            seen.extend(page.items)

    reader = threading.Thread(target=follow)
    writers = [threading.Thread(target=write) for _ in range(WRITERS)]
    _run(reader.start, writers, done.set)
    reader.join()
    numbers = [item.number for item in seen]
    assert numbers == sorted({*numbers})
    with reading() as own:
        logged = own.scalars(
            select(RecordLogEntry.number)
            .where(RecordLogEntry.number > start, RecordLogEntry.subject.in_(changes.READ))
            .order_by(RecordLogEntry.number)
        ).all()
        assert len(own.scalars(select(Customer.id)).all()) >= WRITERS * COMMITS
    assert numbers == list(logged)
    assert len(numbers) == WRITERS * COMMITS


def _run(
    begin: Callable[[], None], threads: list[threading.Thread], end: Callable[[], None]
) -> None:
    begin()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    end()
