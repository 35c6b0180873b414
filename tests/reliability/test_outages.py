"""Disk full, disk read-only, database locked for long, PostgreSQL restarted, an upload cut off: a
clear word, nothing acknowledged lost, and the server goes on by itself.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
import pytest
from lxml import html
from sqlalchemy import Engine
from sqlalchemy.engine import make_url

from shopflow.config import DATABASE_FILE
from shopflow.database import PATIENCE
from tests.demo_shop import DemoShop
from tests.patience import PATIENCE as PATIENT
from tests.postgres import Server as PostgresServer
from tests.programs import leave_out, need
from tests.reliability.conftest import ShopCopy, copied
from tests.reliability.saving import Crowd, assert_nothing_is_lost
from tests.reliability.serving import (
    SHOPFLOW,
    Answer,
    Browser,
    Server,
    run,
    serving,
    typed_in,
    wait_until,
)

pytestmark = pytest.mark.slow

A_TEXT = b"A note to keep with the job.\n" * 40
BUSY = "Server busy: not saved"
TYPED = 'Iron & Sons <"quoted">\nsecond line'


def assert_put_off(answer: Answer, title: str) -> None:
    """It is refused for now, in words, and the words say when to try again."""
    assert answer.status == 503, answer.text[-1500:]
    assert int(answer.headers["Retry-After"]) > 0
    assert title in (html.fromstring(answer.text).findtext(".//h1") or "")
    assert "Traceback" not in answer.text


@contextlib.contextmanager
def held_shut(shop_copy: ShopCopy) -> Iterator[None]:
    """Someone holds what every writer needs, and does not let go."""
    if not shop_copy.url:
        connection = sqlite3.connect(shop_copy.folder / DATABASE_FILE, isolation_level=None)
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield
        finally:
            connection.close()
        return
    query = make_url(shop_copy.url)
    address = f"host={query.query['host']} user={query.username} dbname={query.database}"
    with psycopg.connect(address) as holding:
        holding.execute("LOCK TABLE customer IN ACCESS EXCLUSIVE MODE")
        yield
        holding.rollback()


@dataclass(frozen=True)
class AtWork:
    """A shop that is served, and its owner signed in."""

    shop_copy: ShopCopy
    server: Server
    someone: Browser


@pytest.fixture(scope="module")
def at_work(demo_shop: DemoShop, tmp_path_factory: pytest.TempPathFactory) -> Iterator[AtWork]:
    """In SQLite: one for the tests after which the shop goes on as before."""
    shop_copy = copied(demo_shop, tmp_path_factory.mktemp("at-work") / "shop")
    (shop_copy.folder / "files").mkdir(exist_ok=True)
    with serving(shop_copy.folder) as server:
        yield AtWork(shop_copy, server, shop_copy.someone(server))


@pytest.fixture(scope="module")
def at_work_in_postgres(
    durable_postgres: PostgresServer,
    moved: str,
    demo_shop: DemoShop,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[AtWork]:
    """The same in PostgreSQL."""
    with durable_postgres.database(moved) as url:
        shop_copy = copied(demo_shop, tmp_path_factory.mktemp("at-work") / "shop", url)
        with serving(shop_copy.folder, shop_copy.url) as server:
            yield AtWork(shop_copy, server, shop_copy.someone(server))


@pytest.mark.parametrize("where", ["at_work", "at_work_in_postgres"])
def test_a_database_locked_for_long_is_said_and_what_was_typed_goes_in_later(
    request: pytest.FixtureRequest, where: str
):
    at_work: AtWork = request.getfixturevalue(where)
    someone = at_work.someone
    with held_shut(at_work.shop_copy):
        begun = time.monotonic()
        answer = someone.post("/customers/new", {"name": "Held Up", "notes": TYPED})
        assert time.monotonic() - begun > PATIENCE - 1
    assert_put_off(answer, BUSY)
    # The page holds what was typed, and sends it from there.
    again = typed_in(answer.text, "/customers/new")
    assert again["notes"] == TYPED
    saved = someone.post("/customers/new", again)
    assert saved.status == 302, saved.text[-1500:]
    page = someone.get(saved.headers["Location"])
    assert "Held Up" in page.text
    assert "second line" in page.text


def test_a_password_never_rides_in_the_page(at_work: AtWork):
    with held_shut(at_work.shop_copy):
        answer = at_work.someone.post("/people/new", {"name": "X", "login": "x", "role": "reader",
                                                      "password": "a long secret"})  # fmt: skip
    assert_put_off(answer, BUSY)
    assert "a long secret" not in answer.text
    assert "type passwords again" in answer.text


def test_reading_goes_on_while_a_writer_holds_sqlite(at_work: AtWork):
    # Who waited for the lock would be put off in the end: it is held until the page is there.
    with held_shut(at_work.shop_copy):
        assert at_work.someone.get("/").status == 200


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a few megabytes, which only root can mount."""
    place = tmp_path / "disk"
    place.mkdir()
    if os.geteuid() != 0:
        leave_out("the tests with a disk of their own", "mounting one takes root")
    need("mount")
    mount = ["mount", "-t", "tmpfs", "-o", "size=24m", "shopflow-test", str(place)]
    done = subprocess.run(mount, capture_output=True, text=True, check=False)
    if done.returncode:
        leave_out("the tests with a disk of their own", done.stderr.strip())
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(disk: Path) -> Path:
    """A file that takes all the room there is."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while file.write(b"\0" * 65536):
            pass
    return filler


def test_a_full_disk_is_said_and_room_again_is_enough(in_sqlite: ShopCopy, small_disk: Path):
    shop = ShopCopy(shutil.copytree(in_sqlite.folder, small_disk / "shop"), "", in_sqlite.password)
    with serving(shop.folder) as server:
        crowd = Crowd(shop, server)

        def full_disk_answers() -> list[Answer]:
            return [answer for answer in crowd.put_off if "The disk is full" in answer.text]

        with crowd.at_work():
            crowd.wait_for(20)
            filler = fill(small_disk)
            wait_until(lambda: len(full_disk_answers()) >= 4)
            assert crowd.browser.get("/").status == 200, "what is on file can still be read"
            for answer in full_disk_answers():
                assert_put_off(answer, "The disk is full")
            filler.unlink()
            crowd.wait_for(crowd.acknowledged + 20)
    assert_nothing_is_lost(shop, crowd)
    assert run("check", *shop.where).returncode == 0


@pytest.fixture
def files_on_small_disk(at_work: AtWork, small_disk: Path) -> Iterator[Path]:
    """The disk, under the files of the shop at work."""
    place = str(at_work.shop_copy.folder / "files")
    subprocess.run(["mount", "--bind", str(small_disk), place], check=True)
    try:
        yield small_disk
    finally:
        subprocess.run(["umount", "--lazy", place], check=True)


def test_a_photo_that_finds_no_room_leaves_nothing(at_work: AtWork, files_on_small_disk: Path):
    filler = fill(files_on_small_disk)
    job = at_work.shop_copy.tags(1)[0].rpartition("-")[0]
    answer = at_work.someone.upload(f"/jobs/{job}/files/add", A_TEXT * 500, "long.txt")
    assert_put_off(answer, "The disk is full")
    assert "Go back" in answer.text
    filler.unlink()
    assert not [path for path in files_on_small_disk.rglob("*") if path.is_file()]


def test_a_photo_on_a_disk_that_takes_nothing_is_put_off(
    at_work: AtWork, files_on_small_disk: Path
):
    disk, someone = str(files_on_small_disk), at_work.someone
    path = f"/jobs/{at_work.shop_copy.tags(1)[0].rpartition('-')[0]}/files/add"
    subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
    assert_put_off(someone.upload(path, A_TEXT, "first.txt"), "The disk is read-only")
    subprocess.run(["mount", "-o", "remount,rw", disk], check=True)
    assert someone.upload(path, A_TEXT, "again.txt").status == 302


def test_a_disk_that_takes_nothing_is_said_when_the_server_starts(
    in_sqlite: ShopCopy, small_disk: Path
):
    shutil.copytree(in_sqlite.folder, small_disk / "shop")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    command = [str(SHOPFLOW), "serve", "--data", str(small_disk / "shop"), "--port", "0"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENT, check=False)
    assert done.returncode in (1, 2)
    assert "Traceback" not in done.stderr


def test_records_that_can_only_be_read_are_said_to_be_so(at_work_in_postgres: AtWork):
    """PostgreSQL on a standby, or a database set so by its keeper."""
    shop_copy, someone = at_work_in_postgres.shop_copy, at_work_in_postgres.someone
    name = make_url(shop_copy.url).database
    engine = shop_copy.engine()
    with engine.begin() as connection:
        connection.exec_driver_sql(f"ALTER DATABASE {name} SET default_transaction_read_only = on")
    end_connections(engine)
    answer = someone.post("/customers/new", {"name": "Read Only", "notes": TYPED})
    assert_put_off(answer, "The disk is read-only")
    assert someone.get("/").status == 200
    with engine.connect() as connection:
        connection.exec_driver_sql("SET TRANSACTION READ WRITE")
        connection.exec_driver_sql(f"ALTER DATABASE {name} RESET default_transaction_read_only")
        connection.commit()
    end_connections(engine)
    again = typed_in(answer.text, "/customers/new")
    wait_until(lambda: someone.post("/customers/new", again).status == 302)
    engine.dispose()


def end_connections(engine: Engine) -> None:
    """End every connection to the database but this one, so that new ones see its settings."""
    with engine.connect() as connection:
        connection.exec_driver_sql(
            "SELECT pg_terminate_backend(pid, 60000) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
    engine.dispose()


@pytest.mark.long
@pytest.mark.parametrize("mode", ["fast", "immediate"])
def test_postgresql_restarted_under_load_loses_nothing_and_is_found_again(
    in_postgres: ShopCopy, durable_postgres: PostgresServer, mode: str
):
    """In the mode "immediate" the restart is a crash, and it recovers from its log."""
    with serving(in_postgres.folder, in_postgres.url) as server:
        crowd = Crowd(in_postgres, server)
        with crowd.at_work():
            crowd.wait_for(30)
            for _ in range(2):
                durable_postgres.restart(mode)
                crowd.wait_for(crowd.acknowledged + 30)
        assert sum(client.cut_off for client in crowd.client_logs) == 0, (
            "the server itself never went away"
        )
        for answer in crowd.put_off:
            busy = BUSY in answer.text
            assert_put_off(answer, BUSY if busy else "Database unavailable")
    assert_nothing_is_lost(in_postgres, crowd)


def files_in(shop_copy: ShopCopy) -> set[Path]:
    """Every file in the shop's store."""
    return {path for path in (shop_copy.folder / "files").rglob("*") if path.is_file()}


def test_an_upload_that_is_cut_off_leaves_nothing_and_the_server_goes_on(at_work: AtWork):
    job = at_work.shop_copy.tags(1)[0].rpartition("-")[0]
    before = files_in(at_work.shop_copy)
    for _ in range(8):
        with socket.create_connection(("127.0.0.1", at_work.server.port)) as connection:
            connection.sendall(
                f"POST /jobs/{job}/files/add HTTP/1.1\r\nHost: shop\r\n"
                "Content-Type: multipart/form-data; boundary=b\r\n"
                "Content-Length: 5000000\r\n\r\n--b\r\n".encode()
                + b"x" * 200_000
            )
    assert at_work.someone.get("/").status == 200
    total = at_work.someone.upload(f"/jobs/{job}/files/add", A_TEXT + b"All of it.", "whole.txt")
    assert total.status == 302
    assert len(files_in(at_work.shop_copy) - before) == 1
    assert "Traceback" not in at_work.server.log.read_text()
