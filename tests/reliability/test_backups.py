"""Backing up a shop at work, restoring it elsewhere, checking what came of it."""

from __future__ import annotations

import json
import shutil
import sqlite3
import stat
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from shopflow.files import FileStore
from shopflow.models import Base, Customer, Job, JobFile, TestDraft
from tests.demo_shop import DemoShop
from tests.factories import NOW
from tests.reliability.conftest import ShopCopy, copied
from tests.reliability.saving import READING, Crowd
from tests.reliability.serving import run, serving, wait_until

pytestmark = pytest.mark.slow

PHOTO = b"not a picture, but the bytes of one"


def every_row(engine: Engine) -> dict[str, list[str]]:
    """Every row of every table, read by SQLAlchemy alone."""
    with engine.connect() as connection:
        return {
            table.name: sorted(map(repr, connection.execute(select(table))))
            for table in Base.metadata.sorted_tables
        }


def rows_in(folder: Path) -> dict[str, list[str]]:
    """Every row of the shop in a folder."""
    engine = open_engine(f"sqlite:///{folder / DATABASE_FILE}")
    try:
        return every_row(engine)
    finally:
        engine.dispose()


def with_a_file(shop_copy: ShopCopy) -> str:
    """Give the shop a file; its SHA-256."""
    engine = shop_copy.engine()
    with session_factory(engine).begin() as db:
        name = FileStore(shop_copy.folder / "files").put(PHOTO)
        job = db.scalars(select(Job).limit(1)).one()
        db.add(JobFile(job_id=job.id, name="a.txt", media_type="text/plain", sha256=name,
                       size=len(PHOTO), added_at=NOW))  # fmt: skip
    engine.dispose()
    return name


def backed_up(shop_copy: ShopCopy, folder: Path, *options: object) -> Path:
    """A backup of the shop, made by the command."""
    process = run("backup", folder, *shop_copy.where, *options)
    assert process.returncode == 0, process.stderr
    return max(folder.glob("shopflow-*.tar"), key=lambda path: path.stat().st_mtime_ns)


def test_a_restored_shop_is_the_one_backed_up_row_for_row_and_byte_for_byte(
    shop_copy: ShopCopy, tmp_path: Path
):
    name = with_a_file(shop_copy)
    archive = backed_up(shop_copy, tmp_path / "backups")
    engine = shop_copy.engine()
    before = every_row(engine)
    engine.dispose()
    restored = tmp_path / "elsewhere" / "shop"
    done = run("restore", archive, restored)
    assert done.returncode == 0, done.stderr
    assert rows_in(restored) == before
    assert FileStore(restored / "files").get(name) == PHOTO
    assert (restored / "secret.key").read_bytes() == (shop_copy.folder / "secret.key").read_bytes()
    checked = run("check", "--data", restored)
    assert checked.returncode == 0, checked.stdout
    # The secret came along: who was signed in, and every sealed word, goes on. From then on it is
    # a shop in SQLite, whatever it was.
    if not shop_copy.url:
        with serving(restored) as server:
            assert shop_copy.someone(server).get("/").status == 200


def test_a_shop_is_restored_into_an_empty_postgresql(
    in_sqlite: ShopCopy, empty_postgres: str, tmp_path: Path
):
    archive = backed_up(in_sqlite, tmp_path / "backups")
    done = run("restore", archive, tmp_path / "there", "--database-url", empty_postgres)
    assert done.returncode == 0, done.stderr
    engine = open_engine(empty_postgres)
    assert every_row(engine) == rows_in(in_sqlite.folder)
    engine.dispose()
    # There is one set of records, and it is not in the folder.
    assert not (tmp_path / "there" / DATABASE_FILE).exists()
    again = run("restore", archive, tmp_path / "twice", "--database-url", empty_postgres)
    assert again.returncode == 1
    assert "holds records already" in again.stderr
    assert not (tmp_path / "twice").exists()


def test_a_backup_of_a_shop_at_work_is_of_one_moment(shop_copy: ShopCopy, tmp_path: Path):
    with serving(shop_copy.folder, shop_copy.url) as server:
        crowd = Crowd(shop_copy, server)
        with crowd.at_work():
            wait_until(lambda: all(client.reading for client in crowd.client_logs))
            before = {client.name: len(client.customers) for client in crowd.client_logs}
            archive = backed_up(shop_copy, tmp_path / "backups")
            after = {client.name: len(client.customers) + 1 for client in crowd.client_logs}
            count = crowd.acknowledged
            # Nobody is kept from saving for good.
            crowd.wait_for(count + 16)
    restored = tmp_path / "restored"
    assert run("restore", archive, restored).returncode == 0
    engine = open_engine(f"sqlite:///{restored / DATABASE_FILE}")
    with session_factory(engine)() as db:
        answer = set(db.scalars(select(Customer.name)))
        readings = {row.job_head.tag: row.typed for row in db.scalars(select(TestDraft))}
    engine.dispose()
    for client in crowd.client_logs:
        saved = [name for name in client.customers if name in answer]
        # What one client did is there up to some act of its own and nothing after it, in
        # whichever table it went.
        assert saved == client.customers[: len(saved)]
        assert before[client.name] <= len(saved) <= after[client.name]
        assert int(readings[client.tag][READING]) in (len(saved) - 1, len(saved))
    assert run("check", "--data", restored).returncode == 0


def test_a_backup_waits_for_no_writer(in_sqlite: ShopCopy, tmp_path: Path):
    with sqlite3.connect(in_sqlite.folder / DATABASE_FILE, isolation_level=None) as writing:
        writing.execute("BEGIN IMMEDIATE")
        assert backed_up(in_sqlite, tmp_path / "backups")
    writing.close()


def test_a_backup_is_its_owners_alone_and_says_what_is_in_it(in_sqlite: ShopCopy, tmp_path: Path):
    archive = backed_up(in_sqlite, tmp_path / "backups")
    assert stat.S_IMODE(archive.stat().st_mode) == 0o600
    with tarfile.open(archive) as tar:
        names = tar.getnames()
        file = tar.extractfile("manifest.json")
        assert file is not None
        manifest = json.load(file)
    assert names[-1] == "manifest.json"
    assert set(names[:-1]) == set(manifest["members"]) >= {DATABASE_FILE, "secret.key"}
    assert {name: tally["rows"] for name, tally in manifest["tables"].items()} == {
        name: len(rows) for name, rows in rows_in(in_sqlite.folder).items()
    }
    # Nothing is left of what was written on the way.
    assert [path.name for path in archive.parent.iterdir()] == [archive.name]


@pytest.fixture(scope="module")
def backup_of_shop(demo_shop: DemoShop, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of the shop, to be copied."""
    folder = tmp_path_factory.mktemp("whole")
    return backed_up(copied(demo_shop, folder / "shop"), folder / "backups")


def cut(archive: Path) -> None:
    content = archive.read_bytes()
    archive.write_bytes(content[: len(content) * 2 // 3])


def without_manifest(archive: Path) -> None:
    content = archive.read_bytes()
    archive.write_bytes(content[: content.rindex(b"manifest.json")] + b"\0" * 1024)


def with_a_flipped_bit(archive: Path) -> None:
    content = bytearray(archive.read_bytes())
    content[len(content) // 2] ^= 1
    archive.write_bytes(content)


def with_a_stranger(archive: Path) -> None:
    other = archive.with_name("passwd")
    other.write_text("x")
    with tarfile.open(archive, "a") as tar:
        tar.add(other, "../../passwd")


def not_one(archive: Path) -> None:
    archive.write_bytes(b"%PDF-1.7 " * 1000)


@pytest.mark.parametrize(
    "spoil", [cut, without_manifest, with_a_flipped_bit, with_a_stranger, not_one]
)
def test_a_spoilt_backup_is_refused_and_leaves_nothing(
    backup_of_shop: Path, tmp_path: Path, spoil: Callable[[Path], None]
):
    archive = Path(shutil.copy(backup_of_shop, tmp_path))
    spoil(archive)
    place = tmp_path / "place"
    place.mkdir()
    done = run("restore", archive, place / "shop")
    assert done.returncode == 1
    assert "backup" in done.stderr
    assert "Traceback" not in done.stderr
    assert list(place.iterdir()) == []


def test_nothing_is_restored_over_something(in_sqlite: ShopCopy, tmp_path: Path):
    archive = backed_up(in_sqlite, tmp_path / "backups")
    before = rows_in(in_sqlite.folder)
    done = run("restore", archive, in_sqlite.folder)
    assert done.returncode == 1
    assert "holds something already" in done.stderr
    assert rows_in(in_sqlite.folder) == before


def test_damaged_records_are_not_backed_up_and_older_backups_stay(
    in_sqlite: ShopCopy, tmp_path: Path
):
    older = backed_up(in_sqlite, tmp_path / "backups")
    damage(in_sqlite.folder / DATABASE_FILE)
    done = run("backup", older.parent, *in_sqlite.where, "--days", 1)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert [path.name for path in older.parent.iterdir()] == [older.name]


def damage(file: Path) -> None:
    """Overwrite a leaf of the events' table, as a failing disk does."""
    with sqlite3.connect(file) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (page,) = connection.execute("SELECT max(rootpage) FROM sqlite_master").fetchone()
    content = bytearray(file.read_bytes())
    content[(page - 1) * 4096 : page * 4096] = b"\x55" * 4096
    file.write_bytes(content)


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        ("UPDATE bench_session SET mean_area = mean_area * 1.001 WHERE id = 3", "out of date"),
        ("UPDATE counter SET last = 0 WHERE series = 'job'", "used to"),
        ("DROP TRIGGER", "the trigger is gone"),
        ("INSERT INTO lookup_trigrams (lookup_trigrams) VALUES ('delete-all')", "may miss jobs"),
        ("DELETE FROM customer WHERE id = 1", "that is not there"),
    ],
)
def test_check_says_what_is_wrong(in_sqlite: ShopCopy, spoil: str, message: str):
    file = in_sqlite.folder / DATABASE_FILE
    with sqlite3.connect(file) as connection:
        if spoil == "DROP TRIGGER":
            take_guards_away(connection)
        else:
            connection.execute(spoil)
    connection.close()
    process = run("check", *in_sqlite.where)
    assert process.returncode == 1, process.stdout
    assert message in process.stdout
    assert "NOT ALL IS WHOLE" in process.stdout


def test_check_waits_for_no_writer_and_needs_none_of_its_own(in_sqlite: ShopCopy):
    with sqlite3.connect(in_sqlite.folder / DATABASE_FILE, isolation_level=None) as writer:
        writer.execute("BEGIN IMMEDIATE")
        process = run("check", *in_sqlite.where)
        writer.rollback()
    writer.close()
    assert process.returncode == 0, process.stdout + process.stderr
    assert "index of look-ups is as the texts" in process.stdout
    assert "All is whole" in process.stdout


def take_guards_away(connection: sqlite3.Connection) -> None:
    """Drop the triggers that keep invoices as they were issued."""
    guards = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'invoice'"
    for (name,) in connection.execute(guards).fetchall():
        connection.execute(f"DROP TRIGGER {name}")


def test_check_finds_a_paper_that_is_not_as_issued_and_a_file_that_is_gone(in_sqlite: ShopCopy):
    name = with_a_file(in_sqlite)
    store = FileStore(in_sqlite.folder / "files")
    (path,) = (item for item in store.paths() if item.read_bytes() == PHOTO)
    path.write_bytes(PHOTO + b"!")
    with sqlite3.connect(in_sqlite.folder / DATABASE_FILE) as connection:
        # Whoever gets at the file itself can do this.
        take_guards_away(connection)
        connection.execute("UPDATE invoice SET pdf = CAST(pdf || ' ' AS BLOB) WHERE id = 2")
    connection.close()
    process = run("check", *in_sqlite.where)
    assert process.returncode == 1
    assert "(row 2): its PDF is not the one issued" in process.stdout
    assert f"({name}): its bytes have changed" in process.stdout
    shutil.rmtree(in_sqlite.folder / "files")
    assert f"({name}): this file is missing" in run("check", *in_sqlite.where).stdout
