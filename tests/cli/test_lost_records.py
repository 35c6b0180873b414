"""A shop whose database is gone is never offered as a new one; a new one asks for its code."""

from __future__ import annotations

import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from shopflow import create_app
from shopflow.config import SET_UP_FILE, Settings
from shopflow.database import newest_revision
from tests.cli.conftest import Run
from tests.cli.test_shop import refusal, serving
from tests.demo_shop import DemoShop
from tests.optional import present
from tests.reliability.serving import Browser, token_of, wait_until


def delete_file(file: Path) -> None:
    file.unlink()


def truncate_file(file: Path) -> None:
    file.write_bytes(b"")


def empty_database(file: Path) -> None:
    with closing(sqlite3.connect(file)) as database, database:
        for table in ("shop", "person"):
            database.execute(f"DELETE FROM {table}")


@pytest.fixture
def shop(demo_shop: DemoShop, tmp_path: Path) -> Path:
    """A shop's folder, of which a test takes the records away."""
    return demo_shop.copy_to(tmp_path / "shop")


@pytest.mark.parametrize("lose", [delete_file, truncate_file, empty_database])
def test_serve_refuses_a_folder_whose_records_are_gone(run: Run, shop: Path, lose):
    lose(shop / "shopflow.db")
    words = refusal(run("serve", "--data", shop))
    assert "holds no records" in words
    assert "Restore the latest backup" in words
    assert "move this folder away" in words
    # A backup of nothing would push the good ones out.
    for command in (["backup", shop.parent / "backups"], ["check"], ["find", "342"]):
        assert "holds no records" in refusal(run(*command, "--data", shop))
    assert (shop / "shopflow.db").exists() == (lose is not delete_file)


def test_a_folder_without_files_is_known_by_its_note(run: Run, shop: Path):
    create_app(Settings.for_folder(shop)).extensions["shopflow.engine"].dispose()
    assert (shop / SET_UP_FILE).exists()
    for folder in ("files", "papers"):
        shutil.rmtree(shop / folder, ignore_errors=True)
    delete_file(shop / "shopflow.db")
    assert "holds no records" in refusal(run("serve", "--data", shop))


@pytest.mark.slow
def test_a_true_first_start_asks_for_the_code_it_printed(tmp_path: Path):
    folder = tmp_path / "shop"
    with serving("--data", folder) as (server, address):
        browser = Browser(address)
        form = {
            "name": "Falling Water Heads",
            "time_zone": "America/Chicago",
            "unit_system": "si",
            "paper_size": "A4",
            "currency": "eur",
            "tax_rate_percent": "19",
            "owner_name": "Nila Brook",
            "login": "nila",
            "password": "a long enough word",
            "again": "a long enough word",
        }
        browser.token = token_of(browser.get("/set-up").text)
        answer = browser.post("/set-up", {**form, "code": "AAAAA-AAAAA"})
        assert answer.status == 422
        assert "is not the set-up code" in answer.text
        text = ""
        while "Open http" not in text:
            text += present(server.stdout).readline()
        (code,) = re.findall(
            r"^Set-up code: (\S+)\. The set-up page asks for it", text, re.MULTILINE
        )
        browser.token = token_of(answer.text)
        assert browser.post("/set-up", {**form, "code": code.lower()}).status == 302
        # It is written once the answer is sent.
        wait_until((folder / SET_UP_FILE).exists)
    with closing(sqlite3.connect(folder / "shopflow.db")) as database:
        assert database.execute("SELECT count(*) FROM set_up_code").fetchone() == (0,)
        assert code.replace("-", "") not in "\n".join(database.iterdump())


def test_check_says_of_an_empty_database_that_it_is_empty(run: Run, tmp_path: Path):
    (tmp_path / "shopflow.db").write_bytes(b"")
    words = refusal(run("check", "--data", tmp_path))
    assert "this database is empty" in words
    assert "shopflow restore" in words


def test_check_says_of_lost_records_what_serve_says(run: Run, shop: Path):
    truncate_file(shop / "shopflow.db")
    assert "Restore the latest backup" in refusal(run("check", "--data", shop))


@pytest.mark.parametrize("command", ["check", "serve"])
def test_a_database_of_a_later_version_is_told_as_such(run: Run, shop: Path, command: str):
    with closing(sqlite3.connect(shop / "shopflow.db")) as database, database:
        database.execute("UPDATE alembic_version SET version_num = '9999'")
    words = refusal(run(command, "--data", shop))
    assert "a later version of shopflow made this database" in words
    assert "9999" in words
    assert newest_revision() in words
    assert "serve'" not in words
