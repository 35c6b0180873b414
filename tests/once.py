"""Files made once for all worker processes of a run of tests."""

from __future__ import annotations

import fcntl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class SharedFolder:
    """A folder that all worker processes of a run have in common."""

    folder: Path

    def once(self, name: str, make: Callable[[Path], object]) -> Path:
        """Path of a file or folder in it, made by whichever process wants it first."""
        path, done = self.folder / name, self.folder / f"{name}.done"
        with (self.folder / f"{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not done.exists():
                make(path)
                done.touch()
        return path
