"""Importing a million readings as sessions, against sqlite3's executemany of the same rows."""

from __future__ import annotations

import shutil
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy.orm import Session

from shopflow import sessionfile
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.services import sessions
from tests import factories
from tests.benchmarks.large_shop import LIFTS, session_file
from tests.benchmarks.measuring import Bench, Row, agree

READINGS = 1_000_000
TIMED = 200
"""Sessions that are timed; what they took is multiplied."""

TABLES = ("bench_session", "session_lift", "reading")


def measure(bench: Bench) -> Iterator[Row]:
    """Session files read and stored on their heads, and their rows alone."""
    count = max(4, bench.count(READINGS // LIFTS))
    timed = min(count, TIMED)
    source, target = bench.folder / "imported.db", bench.folder / "bare.db"
    engine = open_engine(f"sqlite:///{source}")
    upgrade(engine)
    engine.dispose()
    shutil.copyfile(source, target)
    imported = _imported(source, timed)
    bare = _bare(source, target)
    agree(_rows(target), _rows(source), "the rows")
    share = count / timed
    yield Row(
        f"importing {count * LIFTS:,} readings (timed on {timed * LIFTS:,})",
        "sqlite3 executemany of the same rows", imported * share, bare * share, 4,
    )  # fmt: skip


def _imported(path: Path, count: int) -> float:
    engine = open_engine(f"sqlite:///{path}")
    with session_factory(engine).begin() as db:
        stays = [factories.create_visit(db) for _ in range(max(1, count // 2))]
        files = [session_file(stage, place, 1.0 + place / count) for place in range(count // 2)
                 for stage in ("as received", "after the work")]  # fmt: skip
        db.flush()
        started = time.process_time()
        for place, text in enumerate(files):
            _store(db, stays[place // 2].id, text)
        taken = time.process_time() - started
    engine.dispose()
    return taken


def _store(db: Session, stay_id: int, text: str) -> None:
    stay = db.get_one(factories.JobHead, stay_id)
    sessions.store(db, factories.BY, stay, sessionfile.loads(text))


def _bare(source: Path, target: Path) -> float:
    rows = {}
    with sqlite3.connect(source) as read:
        for table in TABLES:
            rows[table] = read.execute(f"SELECT * FROM {table}").fetchall()
    started = time.process_time()
    with sqlite3.connect(target) as write:
        for table in TABLES:
            marks = ", ".join("?" for _ in rows[table][0])
            write.executemany(f"INSERT INTO {table} VALUES ({marks})", rows[table])
    taken = time.process_time() - started
    read.close()
    write.close()
    return taken


def _rows(path: Path) -> list[int]:
    database = sqlite3.connect(path)
    found = [database.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in TABLES]
    database.close()
    return found
