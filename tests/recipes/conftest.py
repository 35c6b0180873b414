"""A scratch copy of the tree, to change as a recipe says."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Tree:
    """A copy of the code, migrations and settings."""

    root: Path

    def edit(self, path: str, old: str, new: str) -> None:
        """Replace a text that a file has once or more, at its first place."""
        file = self.root / path
        text = file.read_text(encoding="utf-8")
        assert old in text, f"{path} does not hold {old}"
        file.write_text(text.replace(old, new, 1), encoding="utf-8")

    def write(self, path: str, text: str) -> None:
        """Add a file."""
        file = self.root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")

    def run(self, *command: str | Path) -> subprocess.CompletedProcess[str]:
        """Run a command in the copy, with the copy's code."""
        return subprocess.run(
            list(map(str, command)),
            cwd=self.root,
            env={**os.environ, "PYTHONPATH": str(self.root), "PYTHONUTF8": "1"},
            capture_output=True, text=True, check=False,
        )  # fmt: skip

    def python(self, program: str) -> str:
        """Output of a program; fails with its errors where it fails."""
        done = self.run(sys.executable, "-c", program)
        assert done.returncode == 0, done.stderr
        return done.stdout


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    root = tmp_path / "tree"
    for name in ("shopflow", "migrations"):
        # What is compiled comes along: modules are as old as the copies.
        shutil.copytree(ROOT / name, root / name)
    shutil.copy(ROOT / "pyproject.toml", root)
    return Tree(root)
