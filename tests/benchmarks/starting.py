"""`shopflow reduce` of one file, against Python importing numpy."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.measuring import Bench, Row, in_turns, work_of_children
from tests.cli.sessions import INTAKE_US


def measure(bench: Bench) -> Iterator[Row]:
    """Each in a process of its own, by its work and by the clock."""
    file = bench.folder / "session.toml"
    file.write_text(INTAKE_US)
    command = str(Path(sys.executable).with_name("shopflow"))
    # As installed: compiled once, in the round that does not count.
    compiled = {**os.environ, "PYTHONPYCACHEPREFIX": str(bench.folder)}
    compiled.pop("PYTHONDONTWRITEBYTECODE", None)

    def run(*words: str) -> None:
        subprocess.run(words, check=True, capture_output=True, env=compiled)

    for output, clock in (("", work_of_children), (", by the clock", time.perf_counter)):
        mine, numpy = in_turns(
            bench.rounds * 2,
            lambda: run(command, "reduce", str(file)),
            lambda: run(sys.executable, "-c", "import numpy"),
            clock=clock,
        )
        what = f"`shopflow reduce` of one file{output}"
        yield Row(what, '`python -c "import numpy"`', mine, numpy, 2)
