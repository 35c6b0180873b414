"""The invented shop, made once for all tests that want a shop full of work, and copied."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.once import SharedFolder

WITHOUT_NETWORK = """
import socket, sys

def refuse(*arguments, **rest):
    raise OSError("this must do without a network")

socket.socket.connect = socket.socket.bind = socket.getaddrinfo = refuse
from shopflow.cli import main
sys.exit(main(["demo", sys.argv[1]]))
"""


@dataclass(frozen=True)
class DemoShop:
    """The folder, and what the command said when it made it. Tests read it; copies are changed."""

    folder: Path
    said: str

    def copy_to(self, folder: Path) -> Path:
        """A copy whose records can be changed."""
        shutil.copytree(self.folder, folder)
        return folder


@pytest.fixture(scope="session")
def demo_shop(shared_folder: SharedFolder) -> DemoShop:
    """The folder that `shopflow demo` makes, without a network; one for all worker processes."""
    folder = shared_folder.once("demo-shop", _make)
    return DemoShop(folder, _words(folder).read_text())


def _make(folder: Path) -> None:
    command = [sys.executable, "-c", WITHOUT_NETWORK, str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    if done.returncode:
        pytest.fail(f"shopflow demo failed: {done.stderr}")
    _words(folder).write_text(done.stdout)


def _words(folder: Path) -> Path:
    """File of what the command said."""
    return folder.with_suffix(".txt")
