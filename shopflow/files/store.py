"""Storage of contents: one file for each, named by the SHA-256 of its bytes."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from shopflow.errors import NotFoundError
from shopflow.texts import gettext

_NAME = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class FileStore:
    """A folder of contents, two levels of folders deep; nothing in it is ever written twice."""

    folder: Path

    def put(self, content: bytes) -> str:
        """Keep some bytes and return their SHA-256; what is there already only counts as new.

        Once this returns, the bytes are on the disk whole: a loss of power leaves all of them or
        none. Raises OSError where the folder cannot be written to.
        """
        name = hashlib.sha256(content).hexdigest()
        path = self._path(name)
        try:
            os.utime(path)
        except FileNotFoundError:
            path.parent.mkdir(parents=True, exist_ok=True)
            _write_whole(path, content)
            for folder in (path.parent, path.parent.parent, self.folder):
                settle(folder)
        return name

    def get(self, name: str) -> bytes:
        """The bytes of a SHA-256. Raises NotFoundError where they are not here."""
        try:
            return self._path(name).read_bytes()
        except FileNotFoundError:
            raise NotFoundError(gettext("this file is missing from the shop's folder")) from None

    def has(self, name: str) -> bool:
        """True where the bytes of a SHA-256 are stored here."""
        return self._path(name).exists()

    def paths(self) -> Iterator[Path]:
        """Paths of the contents, ordered by SHA-256; unfinished files are not among them."""
        for path in sorted(self.folder.glob("??/??/*")):
            if _NAME.fullmatch(path.name):
                yield path

    def remove(self, name: str) -> None:
        """Let go of a content; nothing happens where it is not here."""
        self._path(name).unlink(missing_ok=True)

    def sweep(self, before: float) -> None:
        """Let go of all that was kept before a moment, in seconds since 1970."""
        for path in self.folder.glob("*/*/*"):
            # Another process may be sweeping too.
            with suppress(FileNotFoundError):
                if path.stat().st_mtime < before:
                    path.unlink()

    def _path(self, name: str) -> Path:
        if not _NAME.fullmatch(name):
            raise NotFoundError(gettext("this file does not exist"))
        return self.folder / name[:2] / name[2:4] / name


def _write_whole(path: Path, content: bytes) -> None:
    """Write under another name, see it onto the disk, then give it its own."""
    descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix="unfinished-")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def settle(folder: Path) -> None:
    """See a folder's own list of names onto the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
