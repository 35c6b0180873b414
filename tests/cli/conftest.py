"""Running the real command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopflow import cli
from tests.patience import PATIENCE

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def shopflow() -> Run:
    """The command as installed beside this Python."""
    command = Path(sys.executable).with_name("shopflow")

    def run(*arguments: object, **settings: Any) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(command), *map(str, arguments)],
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            check=False,
            **settings,
        )

    return run


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """The command in this process, which spares starting Python for each of many runs."""

    def run(*arguments: object) -> subprocess.CompletedProcess[str]:
        capsys.readouterr()
        typed = [str(argument) for argument in arguments]
        try:
            status = cli.main(typed)
        except SystemExit as ended:
            status = int(ended.code or 0)
        out, err = capsys.readouterr()
        return subprocess.CompletedProcess(typed, status, out, err)

    return run
