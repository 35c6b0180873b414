"""Running the real command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def shopflow() -> Run:
    """The command as installed beside this Python."""
    command = Path(sys.executable).with_name("shopflow")

    def run(*arguments: object, **settings: object) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(command), *map(str, arguments)],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            **settings,  # type: ignore[call-overload]
        )

    return run
