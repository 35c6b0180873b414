"""Run every benchmark and print the table: `python -m tests.benchmarks [--quick] [NAME ...]`."""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

from shopflow.database import open_engine, upgrade
from tests.benchmarks.large_shop import Size, make
from tests.benchmarks.measuring import HEADER, Bench, Row

NAMES = ("looking_up", "pages", "saving", "certificate", "reducing", "importing", "starting",
         "crowd")  # fmt: skip


@contextmanager
def prepared(small: Size, large: Size, rounds: int, scale: float) -> Iterator[Bench]:
    """A folder with the two shops in it, gone at the end."""
    with tempfile.TemporaryDirectory(prefix="benchmarks-") as name:
        folder = Path(name)
        files = []
        for size in (small, large):
            path = folder / f"{size.jobs}.db"
            started = time.perf_counter()
            engine = open_engine(f"sqlite:///{path}")
            upgrade(engine)
            make(engine, size)
            engine.dispose()
            print(f"{size.jobs} jobs made in {time.perf_counter() - started:.0f} s", flush=True)
            files.append(path)
        yield Bench(folder, *files, rounds=rounds, scale=scale)


def run(bench: Bench, names: tuple[str, ...] = NAMES) -> Iterator[Row]:
    """Every row of the table."""
    for name in names:
        yield from import_module(f"tests.benchmarks.{name}").measure(bench)


def main() -> None:
    """Print the table, a row as soon as it is had."""
    command = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    command.add_argument("names", nargs="*", metavar="NAME", help=", ".join(NAMES))
    command.add_argument("--quick", action="store_true", help="a small shop, few rounds")
    arguments = command.parse_args()
    sizes = (Size(100, 4), Size(1_000, 4)) if arguments.quick else (Size(10_000), Size(100_000))
    rounds, scale = (1, 0.001) if arguments.quick else (5, 1.0)
    print(f"load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with prepared(*sizes, rounds, scale) as bench:
        print(HEADER)
        for row in run(bench, tuple(arguments.names) or NAMES):
            print(row, flush=True)


if __name__ == "__main__":
    main()
