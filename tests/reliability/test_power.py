"""The power going while eight people save to SQLite, at many moments of one run.

strace writes down every write, sync and answer of the real server. From that the files are made as
a disk with a write cache may leave them (disk.py says by which rules), and opened. PostgreSQL's own
durability is not tried so: with its defaults (fsync and synchronous_commit on) it is its makers'.
"""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
from pathlib import Path

import pytest

from shopflow.config import DATABASE_FILE
from tests.programs import need
from tests.reliability.conftest import ShopCopy
from tests.reliability.disk import STRACE, Disk, forgetful, image, moments
from tests.reliability.saving import Crowd
from tests.reliability.serving import serving

pytestmark = pytest.mark.slow

FILES = (DATABASE_FILE, f"{DATABASE_FILE}-wal")
_MADE = re.compile(rb"Location: [^\r\n]*/customers/(\d+)\r\n")


def acknowledged(disk: Disk) -> set[int]:
    """Keys of the customers that someone had been told are on file."""
    result = (_MADE.search(answer) for answer in disk.answers)
    return {int(match[1]) for match in result if match}


def kept_in(folder: Path) -> tuple[str, set[int]]:
    """Result of SQLite's own check of its file, and the keys of its customers."""
    with sqlite3.connect(folder / DATABASE_FILE) as connection:
        (output,) = connection.execute("PRAGMA integrity_check").fetchone()
        keys = {key for (key,) in connection.execute("SELECT id FROM customer")}
    connection.close()
    return output, keys


@pytest.mark.parametrize(
    ("saves", "cuts"), [(40, 30), pytest.param(1000, 400, marks=pytest.mark.long)]
)
def test_no_acknowledged_save_is_lost_when_the_power_goes(
    in_sqlite: ShopCopy, tmp_path: Path, saves: int, cuts: int
):
    need("strace")
    before, log = tmp_path / "before", tmp_path / "calls"
    shutil.copytree(in_sqlite.folder, before)
    with serving(in_sqlite.folder, before=(*STRACE, "-o", str(log))) as server:
        crowd = Crowd(in_sqlite, server)
        with crowd.at_work():
            crowd.wait_for(saves)
    chance = random.Random(saves)
    total = sum(1 for _ in moments(log, in_sqlite.folder, FILES, before))
    chosen = set(chance.sample(range(total), min(cuts, total)))
    tried = unsynced = lost_without_sync = 0
    for index, disk in enumerate(moments(log, in_sqlite.folder, FILES, before)):
        if index not in chosen:
            continue
        message = acknowledged(disk)
        answer = tmp_path / f"cut-{index}"
        answer.mkdir()
        image(disk, answer, chance)
        output, keys = kept_in(answer)
        assert output == "ok", f"cut at call {index}: {output}"
        assert message <= keys, f"cut at call {index}: lost {message - keys}"
        tried += 1
        unsynced += any(stored.since for stored in disk.files.values())
        image(forgetful(disk, before), answer, chance)

        lost_without_sync += not message <= kept_in(answer)[1]
        shutil.rmtree(answer)
    assert tried == len(chosen)
    assert unsynced > cuts // 10, "the power never went between a write and its sync"
    # The way of looking finds a loss where there is one.
    assert lost_without_sync > cuts // 2
    print(f"{tried} cuts of {total} calls, {len(acknowledged(disk))} acknowledged, none lost")
