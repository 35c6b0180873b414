"""Moving a shop from SQLite to PostgreSQL: counted, compared, all or nothing."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.exc import DBAPIError

from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from shopflow.models import Base
from shopflow.services.actor import Actor
from shopflow.services.registry import customers
from tests.factories import NOW
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import SHOPFLOW, run, serving, wait_until
from tests.reliability.test_backups import every_row, rows_in

pytestmark = pytest.mark.slow


def test_every_row_arrives_and_the_shop_goes_on_there(in_sqlite: ShopCopy, empty_postgres: str):
    before = rows_in(in_sqlite.folder)
    moved = run("move-to", empty_postgres, "--data", in_sqlite.folder)
    assert moved.returncode == 0, moved.stderr
    counted = {name: int(count) for count, name in re.findall(r"^ +(\d+)  (\w+)$", moved.stdout,
                                                              re.MULTILINE)}  # fmt: skip
    assert counted == {name: len(rows) for name, rows in before.items() if rows}
    engine = open_engine(empty_postgres)
    assert every_row(engine) == before
    with session_factory(engine).begin() as db:
        # The keys count on, and every series does.
        customer = customers.create(db, Actor(None, NOW), {"name": "Someone New"})
        assert customer.id > max(int(row.strip("(").split(",")[0]) for row in before["customer"])
    for statement in ("UPDATE certificate SET code = 'x'", "DELETE FROM invoice"):
        with engine.connect() as connection, pytest.raises(DBAPIError, match="cannot be changed"):
            connection.execute(text(statement))
    engine.dispose()
    # Nobody goes on writing into the old file by mistake.
    assert not (in_sqlite.folder / DATABASE_FILE).exists()
    assert (in_sqlite.folder / f"{DATABASE_FILE}-moved").exists()
    there = ShopCopy(in_sqlite.folder, empty_postgres, in_sqlite.password)
    assert run("check", *there.where).returncode == 0


def test_a_shop_that_is_being_served_is_not_moved(in_sqlite: ShopCopy, empty_postgres: str):
    with serving(in_sqlite.folder) as server:
        refused = run("move-to", empty_postgres, "--data", in_sqlite.folder)
        assert refused.returncode == 1
        assert "is in use: stop" in refused.stderr
        assert in_sqlite.someone(server).get("/").status == 200
    assert nothing_is_in(empty_postgres)
    assert run("move-to", empty_postgres, "--data", in_sqlite.folder).returncode == 0


def test_a_database_that_holds_something_is_refused(in_sqlite: ShopCopy, empty_postgres: str):
    engine = open_engine(empty_postgres)
    with session_factory(engine).begin() as db:
        customers.create(db, Actor(None, NOW), {"name": "Already Here"})
    engine.dispose()
    before = rows_in(in_sqlite.folder)
    refused = run("move-to", empty_postgres, "--data", in_sqlite.folder)
    assert refused.returncode == 1
    assert "holds records already" in refused.stderr
    assert rows_in(in_sqlite.folder) == before


@pytest.mark.parametrize("url", ["sqlite:////tmp/x.db", "postgresql://nobody@127.0.0.1:1/none"])
def test_what_is_no_postgresql_to_reach_is_refused_in_words(in_sqlite: ShopCopy, url: str):
    refused = run("move-to", url, "--data", in_sqlite.folder)
    assert refused.returncode == 1
    assert refused.stderr.startswith("shopflow: ")
    assert "Traceback" not in refused.stderr
    assert (in_sqlite.folder / DATABASE_FILE).exists()


@pytest.mark.long
def test_a_move_that_is_killed_has_moved_nothing_and_can_be_made_again(
    in_sqlite: ShopCopy, empty_postgres: str
):
    before = rows_in(in_sqlite.folder)
    engine = open_engine(empty_postgres)
    filled = [table.name for table in Base.metadata.sorted_tables if before[table.name]]
    for table in (filled[0], filled[len(filled) // 2], filled[-1]):
        command = [str(SHOPFLOW), "move-to", empty_postgres, "--data", str(in_sqlite.folder)]
        with engine.connect() as holding:
            # It gets as far as this table, and no further.
            holding.execute(text(f"LOCK TABLE {table} IN SHARE MODE"))
            moving = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            wait_until(lambda: someone_waits(engine))
            moving.kill()
        assert moving.wait() == -9, "it was done before it was killed"
        wait_until(lambda: not someone_waits(engine))
        assert nothing_is_in(empty_postgres)
        assert rows_in(in_sqlite.folder) == before
    moved = run("move-to", empty_postgres, "--data", in_sqlite.folder)
    assert moved.returncode == 0, moved.stderr
    assert every_row(engine) == before
    engine.dispose()


def someone_waits(engine: Engine) -> bool:
    """True where a connection waits for a lock in the database."""
    waiting = text(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
        "AND wait_event_type = 'Lock'"
    )
    with engine.connect() as connection:
        return bool(connection.scalar(waiting))


def nothing_is_in(url: str) -> bool:
    """True where every table is empty."""
    engine = open_engine(url)
    with engine.connect() as connection:
        counts = [
            connection.scalar(text(f"SELECT count(*) FROM {table.name}"))
            for table in Base.metadata.sorted_tables
        ]
    engine.dispose()
    return not any(counts)


def test_a_folder_without_a_shop_is_said_to_have_none(tmp_path: Path, empty_postgres: str):
    refused = run("move-to", empty_postgres, "--data", tmp_path)
    assert refused.returncode == 1
    assert "there is no shop in SQLite" in refused.stderr
