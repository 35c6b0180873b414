"""Importing a million readings from CSV by the command, against executemany of the rows it made."""

from __future__ import annotations

import contextlib
import csv
import io
import random
import shutil
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from shopflow.cli import main
from shopflow.models import Base
from tests import factories
from tests.benchmarks import names
from tests.benchmarks.large_shop import LIFTS
from tests.benchmarks.measuring import Bench, Row, agree

READINGS = 1_000_000
STAGES = ("as received", "after the work")


def measure(bench: Bench) -> Iterator[Row]:
    """A file of past results brought in, and all rows that came of it by themselves."""
    tests = max(4, bench.count(READINGS // LIFTS))
    for own_air, words in ((False, ""), (True, ", each test with its own air")):
        imported, bare = bench.folder / f"imported-{own_air}", bench.folder / f"{own_air}.db"
        imported.mkdir()
        source = imported / "shopflow.db"
        factories.a_new_shop(source)
        shutil.copyfile(source, bare)
        file = imported / "past.csv"
        write_file(file, tests, own_air=own_air)
        in_use = _imported(imported, file)
        rows, limit = _executed(source, bare)
        agree(_counts(bare), _counts(source), "the rows")
        yield Row(
            f"importing {tests * LIFTS:,} readings from CSV by the command, {rows:,} rows{words}",
            "sqlite3 executemany of all those rows", in_use, limit, 4,
        )  # fmt: skip


def write_file(path: Path, tests: int, *, own_air: bool = False) -> None:
    """Past jobs of one head tested twice; a new customer to twenty jobs, few engine types."""
    rng = random.Random(7)
    lifts = [f"{0.05 * step:.3f} in" for step in range(1, LIFTS + 1)]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(
            ["job", "customer", "builder", "family", "engine cylinders", "casting number",
             "serial", "date", "cylinder", "side", "stage", "valve diameter", "test pressure",
             "flow unit", "barometer", "temperature", *lifts]
        )  # fmt: skip
        for job in range(tests // 2):
            engine = int((2 * tests**0.5) * rng.random() ** 2)
            of_job = (f"P{job}", names.customer(job % max(20, tests // 40)), names.builder(engine),
                      names.family(engine), 4, f"HC {4000 + job % 997}", f"S{job:07d}")  # fmt: skip
            valve, side = f"{36 + engine % 12} mm", ("intake", "exhaust")[job % 2]
            for day, stage in enumerate(STAGES, start=1):
                date = f"{1996 + job * 2 * 25 // tests}-{1 + job % 12:02d}-{day + job % 27:02d}"
                flows = [f"{18 + 16 * step * rng.uniform(0.9, 1.1):.1f}" for step in range(LIFTS)]
                barometer, temperature = rng.uniform(29, 30.5), rng.uniform(60, 90)
                air = (f"{barometer:.2f} inHg", f"{temperature:.0f} degF") if own_air else ("", "")
                writer.writerow(
                    [
                        *of_job,
                        date,
                        1 + job % 4,
                        side,
                        stage,
                        valve,
                        "28 inH2O",
                        "cfm",
                        *air,
                        *flows,
                    ]
                )


def _imported(folder: Path, file: Path) -> float:
    started = time.process_time()
    with contextlib.redirect_stdout(io.StringIO()):
        status = main(["import", "results", str(file), "--data", str(folder),
                       "--barometer", "29.92 inHg", "--temperature", "68 degF"])  # fmt: skip
    in_use = time.process_time() - started
    agree(status, 0, "the command's end")
    return in_use


def _executed(source: Path, target: Path) -> tuple[int, float]:
    """Number of rows more in the source, and the seconds to write them."""
    count, in_use = 0, 0.0
    with (
        contextlib.closing(sqlite3.connect(source)) as read,
        contextlib.closing(sqlite3.connect(target)) as write,
    ):
        for table in _counts(source):
            (last,) = write.execute(f"SELECT coalesce(max(rowid), 0) FROM {table}").fetchone()
            rows = read.execute(f"SELECT * FROM {table} WHERE rowid > {last}").fetchall()
            if not rows:
                continue
            marks = ", ".join("?" for _ in rows[0])
            started = time.process_time()
            write.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
            in_use += time.process_time() - started
            count += len(rows)
        started = time.process_time()
        write.commit()
        in_use += time.process_time() - started
    return count, in_use


def _counts(path: Path) -> dict[str, int]:
    """Rows of each table of the models; triggers fill the rest, on both sides."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        return {
            name: database.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
            for name in Base.metadata.tables
        }
