"""Files that can be made again, kept beside Python's own compiled modules for the next process.

As with Python's modules, nothing is written where PYTHONDONTWRITEBYTECODE forbids it or the folder
is read-only.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path


@dataclass(frozen=True)
class KeptFiles:
    """Files of a folder, each headed by the SHA-256 of the rest."""

    folder: Path

    def get(self, name: str) -> bytes | None:
        """Contents of a file; None where it is not there or not whole."""
        try:
            content = (self.folder / name).read_bytes()
        except OSError:
            return None
        head, rest = content[:32], content[32:]
        return rest if sha256(rest).digest() == head else None

    def put(self, name: str, content: bytes) -> None:
        """Write a file at once, as far as the folder can be written to."""
        if sys.dont_write_bytecode:
            return
        file = self.folder / name
        part = file.with_suffix(f".{os.getpid()}")
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            try:
                part.write_bytes(sha256(content).digest() + content)
                part.replace(file)
            finally:
                part.unlink(missing_ok=True)
