"""Past jobs of an engine type, the first page, against SQL written by hand for the same rows."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

import psycopg
from sqlalchemy.engine import make_url
from sqlalchemy.orm import Session

from shopflow.database import READ_ONLY, open_engine, session_factory
from shopflow.services.registry import engine_types
from shopflow.services.search import past_jobs
from tests.benchmarks.measuring import Bench, Row, agree, in_turns

A_PAGE = 50
BY_HAND = """
SELECT job.number, job_head.tag, customer.name, engine_type.builder, engine_type.family,
    head.casting_number, head.serial, job.booked_in_at, job.state,
    (SELECT stage FROM bench_session WHERE job_head_id = job_head.id
     ORDER BY position DESC LIMIT 1),
    (SELECT max(peak_area) FROM bench_session
     WHERE job_head_id = job_head.id AND side = 'intake'),
    (SELECT max(peak_area) FROM bench_session
     WHERE job_head_id = job_head.id AND side = 'exhaust'),
    (SELECT gain_over_first FROM bench_session
     WHERE job_head_id = job_head.id AND gain_over_first IS NOT NULL
     ORDER BY position DESC LIMIT 1)
FROM engine_type
JOIN head ON head.engine_type_id = engine_type.id
JOIN job_head ON job_head.head_id = head.id
JOIN job ON job.id = job_head.job_id
JOIN customer ON customer.id = job.customer_id
WHERE engine_type.builder || ' ' || engine_type.family = ?
ORDER BY job.booked_in_at DESC, job_head.id LIMIT 50
"""


def measure(bench: Bench) -> Iterator[Row]:
    """A type that comes in often and one that seldom does; then the growth with the jobs."""
    with _session(bench.large) as large, _session(bench.small) as small:
        by_hand = _by_hand(bench.large)
        for name, place in (("often", 0), ("seldom", 1)):
            title, alike = _often_and_seldom(large)[place], _often_and_seldom(small)[place]
            app, limit, before = in_turns(
                bench.rounds * 5,
                partial(_look_up, large, title),
                partial(_look_up_by_hand, by_hand, title),
                partial(_look_up, small, alike),
                clock=bench.clock,
            )
            rows = [past.tag for past in past_jobs.past_jobs(large, title, A_PAGE)]
            wanted = [row[1] for row in _look_up_by_hand(by_hand, title)]
            agree(rows, wanted, "the jobs found")
            what = f"look-up, a type that comes in {name}"
            yield Row(what, "SQL by hand, same database", app, limit, 3)
            yield Row(f"{what}, all jobs", "with a tenth of the jobs", app, before, 1.5)
        by_hand.close()


def _by_hand(database: str) -> sqlite3.Connection | psycopg.Connection[Any]:
    """The database by its own driver alone."""
    url = make_url(database)
    if url.get_backend_name() == "sqlite":
        return sqlite3.connect(str(url.database))
    plain = url.set(drivername="postgresql").render_as_string(hide_password=False)
    return psycopg.connect(plain, autocommit=True)


def _look_up_by_hand(
    database: sqlite3.Connection | psycopg.Connection[Any], title: str
) -> list[tuple[Any, ...]]:
    if isinstance(database, sqlite3.Connection):
        return database.execute(BY_HAND, (title,)).fetchall()
    return database.execute(BY_HAND.replace("?", "%s"), (title,)).fetchall()


def _session(database: str) -> Session:
    engine = open_engine(database).execution_options(**READ_ONLY)
    return session_factory(engine)()


def _look_up(db: Session, title: str) -> None:
    past_jobs.past_jobs(db, title, A_PAGE)
    # As a page does: the next begins with nothing in hand.
    db.rollback()
    db.expunge_all()


def _often_and_seldom(db: Session) -> tuple[str, str]:
    """Titles of the type that most jobs are of and of one at the middle, each meant alone."""
    rows = db.connection().exec_driver_sql("SELECT engine_type_id FROM lookup_text")
    ranked = [key for key, _ in Counter(row[0] for row in rows).most_common()]
    titles = {kind.id: kind.title for kind in engine_types.list_all(db)}

    def alone(keys: list[int]) -> str:
        return next(titles[key] for key in keys if len(engine_types.matches(db, titles[key])) == 1)

    return alone(ranked), alone(ranked[len(ranked) // 2 :])
