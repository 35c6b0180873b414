"""Run every benchmark and print the table: `python -m tests.benchmarks [--quick] [NAME ...]`.

With --postgres the shops lie in a PostgreSQL that really keeps what it acknowledges, and times are
by the clock, since most of the work is the server's.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from importlib import import_module
from pathlib import Path

from shopflow.backup.to_postgres import move
from shopflow.database import open_engine, upgrade
from tests import postgres
from tests.benchmarks.large_shop import Size, make
from tests.benchmarks.measuring import HEADER, Bench, Row
from tests.postgres import Server

ON_POSTGRESQL = ("looking_up", "pages", "saving", "record_log")
NAMES = ("looking_up", "pages", "saving", "record_log", "certificate", "reducing", "importing",
         "starting", "crowd")  # fmt: skip


@contextmanager
def prepared(
    small: Size, large: Size, rounds: int, scale: float, server: Server | None = None
) -> Iterator[Bench]:
    """A folder with the two shops in it, or their databases in a server, gone at the end."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="benchmarks-")))
        shops = []
        for size in (small, large):
            path = folder / f"{size.jobs}.db"
            started = time.perf_counter()
            engine = open_engine(f"sqlite:///{path}")
            upgrade(engine)
            make(engine, size)
            engine.dispose()
            print(f"{size.jobs} jobs made in {time.perf_counter() - started:.0f} s", flush=True)
            shops.append(
                stack.enter_context(moved(server, path)) if server else f"sqlite:///{path}"
            )
        clock = time.perf_counter if server else time.process_time
        yield Bench(folder, shops[0], shops[1], rounds=rounds, scale=scale, clock=clock)


@contextmanager
def moved(server: Server, file: Path) -> Iterator[str]:
    """Address of a database in a server that a shop was moved to from its SQLite file."""
    with server.database() as url:
        engine = open_engine(url)
        move(file, engine)
        with engine.begin() as connection:
            connection.exec_driver_sql("ANALYZE")
        engine.dispose()
        yield url


def run(bench: Bench, names: tuple[str, ...] = NAMES) -> Iterator[Row]:
    """Every row of the table."""
    for name in names:
        yield from import_module(f"tests.benchmarks.{name}").measure(bench)


def main() -> None:
    """Print the table, a row as soon as it is had."""
    command = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    command.add_argument("names", nargs="*", metavar="NAME", help=", ".join(NAMES))
    command.add_argument("--quick", action="store_true", help="a small shop, few rounds")
    command.add_argument("--postgres", action="store_true", help=", ".join(ON_POSTGRESQL))
    command.add_argument("--jobs", type=int, default=100_000, help="jobs of the larger shop")
    arguments = command.parse_args()
    large = Size(1_000, 4) if arguments.quick else Size(arguments.jobs)
    sizes = replace(large, jobs=large.jobs // 10), large
    rounds, scale = (1, 0.001) if arguments.quick else (5, 1.0)
    print(f"load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    with ExitStack() as stack:
        # Without options it is as a shop runs it: fsync on.
        server = stack.enter_context(postgres.running(options="")) if arguments.postgres else None
        bench = stack.enter_context(prepared(*sizes, rounds, scale, server))
        print(HEADER)
        for row in run(bench, tuple(arguments.names) or (ON_POSTGRESQL if server else NAMES)):
            print(row, flush=True)


if __name__ == "__main__":
    main()
