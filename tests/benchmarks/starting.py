"""`shopflow reduce` of one file, against Python importing numpy."""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.measuring import Bench, Row, in_turns
from tests.cli.sessions import INTAKE_US


def measure(bench: Bench) -> Iterator[Row]:
    """Each in a process of its own."""
    file = bench.folder / "session.toml"
    file.write_text(INTAKE_US)
    command = str(Path(sys.executable).with_name("shopflow"))
    mine, numpy = in_turns(
        bench.rounds * 2,
        lambda: _run(command, "reduce", str(file)),
        lambda: _run(sys.executable, "-c", "import numpy"),
        clock=_work_of_children,
    )
    yield Row("`shopflow reduce` of one file", '`python -c "import numpy"`', mine, numpy, 2)


def _work_of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)
