"""The benchmarks run, and agree with their limits; how fast they are is no test's business."""

from __future__ import annotations

import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text, true
from sqlalchemy.engine import make_url

from shopflow.database import open_engine, session_factory
from shopflow.models.lookup_text import renew
from tests.benchmarks.__main__ import NAMES, moved, prepared, run
from tests.benchmarks.large_shop import Size
from tests.benchmarks.measuring import Bench, Row
from tests.benchmarks.pages import latest_tested, measured_whole
from tests.benchmarks.served import Served
from tests.postgres import Server

pytestmark = pytest.mark.slow

SMALL, LARGE = Size(40, 4), Size(400, 4)


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    """A shop, and one of ten times its jobs."""
    with prepared(SMALL, LARGE, rounds=1, scale=0.0005) as row:
        yield row


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_a_benchmark_does_what_its_limit_does(bench: Bench, name: str) -> None:
    rows = list(run(bench, (name,)))
    assert rows
    assert all(row.time > 0 and row.limit_time > 0 for row in rows)
    assert all(str(row).count("|") == 8 for row in rows)


def test_a_page_asks_as_much_of_a_large_shop_as_of_a_small_one(bench: Bench) -> None:
    assert statement_counts(bench, bench.small) == statement_counts(bench, bench.large)


def test_a_page_asks_as_much_of_postgresql_as_of_sqlite(bench: Bench, postgres: Server) -> None:
    file = Path(shutil.copy(str(make_url(bench.small).database), bench.folder / "to-move.db"))
    expected = statement_counts(bench, bench.small)
    # SQLite is asked besides how many stays its index of trigrams gives.
    expected["look-up?q=Hollin"] -= 1
    with moved(postgres, file) as url:
        assert statement_counts(bench, url) == expected


def test_a_head_measured_whole_asks_no_more_than_one_measured_once(bench: Bench) -> None:
    file = shutil.copy(str(make_url(bench.small).database), bench.folder / "measured.db")
    served = Served(bench.folder, f"sqlite:///{file}")
    once, total = measured_whole(served, most=4), measured_whole(served)
    for page in ("", "/sheet", "/measurements"):
        counts = [served.queries(f"/heads/{tag}{page}") for tag in (once, total)]
        assert counts[0] == counts[1], page
    served.engine.dispose()


@pytest.mark.parametrize("analyzed", [True, False])
def test_a_page_of_the_work_in_hand_takes_no_more_where_much_was_done(
    bench: Bench, analyzed: bool
) -> None:
    few, many = (
        machine_steps(bench, database, analyzed) for database in (bench.small, bench.large)
    )
    grown = {page: (few[page], many[page]) for page in few if many[page] > 1.1 * few[page]}
    assert grown == {}


def machine_steps(bench: Bench, database: str, analyzed: bool) -> dict[str, int]:
    """Steps SQLite takes for each page of the work in hand, where it knows its tables or not."""
    file = shutil.copy(str(make_url(database).database), bench.folder / "in-hand.db")
    with closing(sqlite3.connect(file)) as connection, connection:
        if not analyzed:
            connection.execute("DELETE FROM sqlite_stat1")
    served = Served(bench.folder, f"sqlite:///{file}")
    job, head = latest_tested(served)
    pages = ("/", "/floor/wall", "/floor/capacity", f"/jobs/{job}", f"/heads/{head}", "/jobs")
    steps = {re.sub(r"\d{4}-.*", "", page): served.steps(page) for page in pages}
    served.engine.dispose()
    return steps


def statement_counts(bench: Bench, database: str) -> dict[str, int]:
    """Number of statements each page sends."""
    served = Served(bench.folder, database)
    job, head = latest_tested(served)
    pages = ("/", f"/jobs/{job}", f"/heads/{head}", "/look-up?q=Hollin", "/jobs")
    counted = {page.split("/")[1]: served.queries(page) for page in pages}
    served.engine.dispose()
    return counted


def test_the_shop_made_in_bulk_is_as_the_services_would_have_left_it(bench: Bench) -> None:
    with session_factory(open_engine(bench.large))() as db:
        stored = db.execute(text("SELECT * FROM lookup_text ORDER BY job_head_id")).all()
        renew(db.connection(), true())
        assert db.execute(text("SELECT * FROM lookup_text ORDER BY job_head_id")).all() == stored
        assert db.execute(text("PRAGMA foreign_key_check")).all() == []


def test_a_row_says_whether_its_goal_is_met() -> None:
    assert Row("a", "b", 2.0, 1.0, goal=2.0).met
    assert not Row("a", "b", 2.1, 1.0, goal=2.0).met
    assert Row("a", "b", 1.0, 20.0, goal=20.0, at_least=True).met
    assert str(Row("a", "b", 0.5, 0.1, 3)).endswith("| 5.00 | at most 3 | **no** |")
