"""`shopflow import`: what a file will do, its faults, and the writing of all of it or nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests import factories
from tests.cli.conftest import Run
from tests.services.imports.files import AIR, csv_of, past_jobs

STATED = tuple(word for name, typed in AIR.items() for word in (f"--{name}", typed))


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """The folder of a shop just set up."""
    factories.a_new_shop(tmp_path / "shopflow.db")
    return tmp_path


def count(data: Path, table: str) -> int:
    with closing(sqlite3.connect(data / "shopflow.db")) as database:
        answer: int = database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        return answer


@pytest.mark.slow
def test_a_file_is_checked_then_written_then_known_again(run: Run, data: Path):
    file = data / "past.csv"
    file.write_bytes(csv_of(past_jobs(3)))
    wanted = ("import", "results", file, "--data", data, *STATED)
    shown = run(*wanted, "--check")
    assert shown.returncode == 0
    lines = shown.stdout.splitlines()
    assert lines[0] == (
        "row 2: makes past job A-1000 of Tarn Customer 0 (new customer), Hollin K00 (new engine "
        "type): intake test ported, 12 readings"
    )
    assert lines[3:] == ["Nothing was written. What it holds: 3 rows, new past job."]
    assert count(data, "job") == 0
    assert run(*wanted).stdout == "Imported: 3 rows, new past job.\n"
    assert (count(data, "job"), count(data, "reading")) == (3, 36)
    again = run(*wanted).stdout.splitlines()
    assert again[-1] == "Nothing was written. What it holds: 3 rows, already there."
    assert count(data, "job") == 3


@pytest.mark.slow
def test_every_fault_is_told_and_nothing_is_written(run: Run, data: Path):
    rows = past_jobs(4)
    rows[1]["0.100 in"], rows[2]["date"] = "n/a", "May"
    file = data / "past.csv"
    file.write_bytes(csv_of(rows))
    refused = run("import", "results", file, "--data", data, *STATED)
    assert refused.returncode == 1
    assert refused.stderr.splitlines() == [
        "row 3, 0.100 in: 'n/a' is not a flow, as 212.4",
        "row 4, date: 'May' is not a date, as 2019-05-31",
        "shopflow: 2 faults: nothing was written",
    ]
    assert count(data, "job") == count(data, "customer") == 0


@pytest.mark.slow
def test_a_file_is_read_as_it_is_written(run: Run, data: Path):
    file = data / "customers.csv"
    file.write_bytes("name;phone\nMüller;555\n".encode("cp1252"))
    wanted = ("import", "customers", file, "--data", data)
    assert "is the separator a semicolon?" in run(*wanted, "--encoding", "windows-1252").stderr
    written = ("--encoding", "windows-1252", "--separator", "semicolon")
    assert run(*wanted, *written).stdout == "Imported: 1 row, new customer.\n"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("asked", "status", "words"),
    [
        (("results", "none.csv"), 1, "none.csv cannot be read"),
        (("results", "none.csv", "--barometer", "high"), 1, "is not a number and a unit"),
        (("cars", "none.csv"), 2, "invalid choice: 'cars'"),
    ],
)
def test_what_cannot_be_is_said(run: Run, data: Path, asked: tuple[str, ...], status: int, words):
    refused = run("import", *asked, "--data", data)
    assert refused.returncode == status
    assert words in refused.stderr


@pytest.mark.slow
def test_where_another_writes_all_the_while_that_is_said_in_a_line(run: Run, data: Path):
    file = data / "customers.csv"
    file.write_bytes(b"name\nOrla Finch\n")
    with closing(sqlite3.connect(data / "shopflow.db", isolation_level=None)) as writer:
        writer.execute("BEGIN IMMEDIATE")
        refused = run("import", "customers", file, "--data", data)
    assert refused.returncode == 1
    assert refused.stderr == "shopflow: the database refused: database is locked\n"
    assert count(data, "customer") == 0
