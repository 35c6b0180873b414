"""Disk full, disk read-only, database locked for long, PostgreSQL restarted, an upload cut off: a
clear word, nothing acknowledged lost, and the server goes on by itself.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from lxml import html
from sqlalchemy.engine import make_url

from shopflow.config import DATABASE_FILE
from tests.postgres import leave_out
from tests.reliability.conftest import Kept
from tests.reliability.saving import Crowd, assert_nothing_is_lost
from tests.reliability.serving import Answer, run, serving, typed_in

TYPED = 'Iron & Sons <"quoted">\nsecond line'


def assert_put_off(answer: Answer, title: str) -> None:
    """It is refused for now, in words, and the words say when to try again."""
    assert answer.status == 503, answer.text[-1500:]
    assert int(answer.headers["Retry-After"]) > 0
    assert title in (html.fromstring(answer.text).findtext(".//h1") or "")
    assert "Traceback" not in answer.text


@contextlib.contextmanager
def held_shut(kept: Kept) -> Iterator[None]:
    """Someone holds what every writer needs, and does not let go."""
    if not kept.url:
        connection = sqlite3.connect(kept.folder / DATABASE_FILE, isolation_level=None)
        connection.execute("BEGIN IMMEDIATE")
        try:
            yield
        finally:
            connection.close()
        return
    query = make_url(kept.url)
    address = f"host={query.query['host']} user={query.username} dbname={query.database}"
    with psycopg.connect(address) as holding:
        holding.execute("LOCK TABLE customer IN ACCESS EXCLUSIVE MODE")
        yield
        holding.rollback()


def test_a_database_locked_for_long_is_said_and_what_was_typed_goes_in_later(kept: Kept):
    with serving(kept.folder, kept.url) as server:
        someone = kept.someone(server)
        with held_shut(kept):
            begun = time.monotonic()
            answer = someone.post("/customers/new", {"name": "Held Up", "notes": TYPED})
            assert 4 < time.monotonic() - begun < 30
        assert_put_off(answer, "Busy: not saved yet")
        # The page holds what was typed, and sends it from there.
        again = typed_in(answer.text, "/customers/new")
        assert again["notes"] == TYPED
        saved = someone.post("/customers/new", again)
        assert saved.status == 302, saved.text[-1500:]
        page = someone.get(saved.headers["Location"])
        assert "Held Up" in page.text
        assert "second line" in page.text


def test_a_password_never_rides_in_the_page(in_sqlite: Kept):
    with serving(in_sqlite.folder) as server:
        someone = in_sqlite.someone(server)
        with held_shut(in_sqlite):
            answer = someone.post("/people/new", {"name": "X", "login": "x", "role": "reader",
                                                  "password": "a long secret"})  # fmt: skip
        assert_put_off(answer, "Busy")
        assert "a long secret" not in answer.text
        assert "passwords have to be" in answer.text


def test_reading_goes_on_while_a_writer_holds_sqlite(in_sqlite: Kept):
    with serving(in_sqlite.folder) as server:
        someone = in_sqlite.someone(server)
        with held_shut(in_sqlite):
            begun = time.monotonic()
            assert someone.get("/").status == 200
            assert time.monotonic() - begun < 4


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a few megabytes, which only root can mount."""
    place = tmp_path / "disk"
    place.mkdir()
    if os.geteuid() != 0:
        leave_out("the tests with a disk of their own", "mounting one takes root")
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


def test_a_full_disk_is_said_and_room_again_is_enough(in_sqlite: Kept, small_disk: Path):
    shop = Kept(shutil.copytree(in_sqlite.folder, small_disk / "shop"), "", in_sqlite.password)
    with serving(shop.folder) as server:
        crowd = Crowd(shop, server)
        with crowd.at_work():
            crowd.wait_for(20)
            filler = fill(small_disk)
            wait_until(lambda: sum(bool(said.put_off) for said in crowd.said) >= 4)
            someone = crowd.browser
            assert someone.get("/").status == 200, "what is on file can still be read"
            assert_put_off(crowd.said[0].put_off[-1], "The disk is full")
            filler.unlink()
            crowd.wait_for(crowd.acknowledged + 20)
    assert_nothing_is_lost(shop, crowd)
    assert run("check", *shop.where).returncode == 0


def test_a_photo_that_finds_no_room_leaves_nothing(in_sqlite: Kept, small_disk: Path):
    (in_sqlite.folder / "files").mkdir()
    subprocess.run(
        ["mount", "--bind", str(small_disk), str(in_sqlite.folder / "files")], check=True
    )
    try:
        with serving(in_sqlite.folder) as server:
            someone = in_sqlite.someone(server)
            filler = fill(small_disk)
            job = in_sqlite.tags(1)[0].rpartition("-")[0]
            answer = someone.upload(f"/jobs/{job}/files/add", b"%PDF-1.4\n" + b"x" * 200_000)
            assert_put_off(answer, "The disk is full")
            assert "Go back" in answer.text
            filler.unlink()
            assert not [path for path in small_disk.rglob("*") if path.is_file()]
    finally:
        subprocess.run(["umount", "--lazy", str(in_sqlite.folder / "files")], check=True)


def wait_until(what, within: float = 60.0) -> None:
    """Wait until something is so."""
    ends = time.monotonic() + within
    while not what():
        assert time.monotonic() < ends, "it never came"
        time.sleep(0.05)
