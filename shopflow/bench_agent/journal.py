"""Readings on the disk before they are sent: a file that only grows.

Each line is JSON: a reading to post, or that one was posted or refused. A line is complete, written
and flushed to the disk before the next thing happens; what a power cut left of a last line was
never promised, and is cut off. Two agents never write one journal.
"""

from __future__ import annotations

import fcntl
import json
import os
import threading
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shopflow.errors import ShopflowError
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class Entry:
    """One reading to post, by the key that the server knows a repeat by."""

    key: str
    path: str
    body: Mapping[str, Any]


class Journal:
    """The journal of one agent."""

    def __init__(self, path: Path) -> None:
        self._lock = threading.Lock()
        self._waiting: dict[str, Entry] = {}
        self.refused: list[tuple[Entry, str]] = []
        """Readings that the server would not take, each with its reason."""

        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            self._read(path)
            _sync_folder(path.parent)
        except BlockingIOError:
            words = gettext("another agent writes the journal {path}: end it first", path=path)
            raise ShopflowError(words) from None
        except OSError as error:
            raise ShopflowError(
                gettext("cannot use the journal {path}: {error}", path=path, error=error.strerror)
            ) from None

    def add(self, path: str, body: Mapping[str, Any]) -> Entry:
        """Put a reading on the disk, to be posted. Raises ShopflowError where the disk refuses."""
        entry = Entry(str(uuid.uuid4()), path, body)
        with self._lock:
            self._write({"key": entry.key, "path": path, "body": body})
            self._waiting[entry.key] = entry
        return entry

    def settle(self, entry: Entry, status: int, refusal: str = "") -> None:
        """Note what the server said to a reading: taken, or refused for good."""
        with self._lock:
            self._write({"settled": entry.key, "status": status, "refusal": refusal})
            del self._waiting[entry.key]
            if refusal:
                self.refused.append((entry, refusal))

    def first(self) -> Entry | None:
        """The oldest reading that is not settled."""
        with self._lock:
            return next(iter(self._waiting.values()), None)

    def __len__(self) -> int:
        """Readings that wait to be posted."""
        with self._lock:
            return len(self._waiting)

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._file)

    def _write(self, content: Mapping[str, Any]) -> None:
        line = (json.dumps(content) + "\n").encode()
        try:
            if os.write(self._file, line) != len(line):
                raise OSError(None, gettext("the disk is full"))
            os.fsync(self._file)
        except OSError as error:
            raise ShopflowError(
                gettext("the journal cannot be written: {error}", error=error.strerror)
            ) from None

    def _read(self, path: Path) -> None:
        content = path.read_bytes()
        complete = content[: content.rfind(b"\n") + 1]
        if len(complete) < len(content):
            os.ftruncate(self._file, len(complete))
            os.fsync(self._file)
        for number, line in enumerate(complete.splitlines(), start=1):
            try:
                self._replay(json.loads(line))
            except (ValueError, KeyError, TypeError):
                raise ShopflowError(
                    gettext("line {number} of the journal {path} is damaged: move the file away "
                            "and keep it", number=number, path=path)
                ) from None  # fmt: skip

    def _replay(self, content: Mapping[str, Any]) -> None:
        if "settled" not in content:
            entry = Entry(content["key"], content["path"], content["body"])
            self._waiting[entry.key] = entry
            return
        entry = self._waiting.pop(content["settled"])
        if content["refusal"]:
            self.refused.append((entry, content["refusal"]))


def _sync_folder(folder: Path) -> None:
    """Have the file's own name on the disk, too."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
