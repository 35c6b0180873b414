"""Contents of a disk after a power cut: the writes strace saw, and some of the last of them.

The model: bytes written to a file before an fsync or fdatasync of it began, and that sync has
returned, are on the disk. Of later writes, each sector of 512 bytes is there or is not,
independently, as on a disk with a write cache. It leaves out disks that lie about a sync, and takes
a file's name and length to be as sure as its content once it is synced.
"""

from __future__ import annotations

import copy
import random
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
CALLS = "pwrite64,ftruncate,fsync,fdatasync,sendto"
STRACE = (
    "strace",
    "-D",
    "-f",
    "-y",
    "-xx",
    "-s",
    "70000",
    "-e",
    f"trace={CALLS}",
    "-e",
    "signal=none",
)

_CALL = re.compile(r"^(\d+) +(\w+)\((\d+)<([^>]*)>(?:, )?(.*)$")
_RESUMED = re.compile(r"^(\d+) +<\.\.\. (\w+) resumed>.*= (-?\d+)")
_RESULT = re.compile(r"\) += (-?\d+)[^=]*$")
_TEXT = re.compile(r'^"((?:\\x[0-9a-f]{2})*)"(?:\.\.\.)?')


@dataclass
class Call:
    """One system call on a file or connection."""

    name: str
    path: str
    data: bytes = b""
    numbers: tuple[int, ...] = ()


@dataclass
class Stored:
    """A file: what is sure to be on the disk, and what was written to it since."""

    sure: bytearray
    since: list[Call] = field(default_factory=list)

    def write(self, call: Call) -> None:
        self.since.append(call)

    def sync(self, count: int) -> None:
        """Mark the writes up to a moment as on the disk."""
        for call in self.since[:count]:
            _apply(self.sure, call, lambda: True)
        del self.since[:count]

    def after_a_cut(self, chance: random.Random) -> bytes:
        """Contents when the power is back."""
        answer = bytearray(self.sure)
        for call in self.since:
            _apply(answer, call, lambda: chance.random() < 0.5)
        return bytes(answer)


@dataclass
class Disk:
    """The files of a folder as the power going at this moment would leave them."""

    files: dict[str, Stored]
    answers: list[bytes] = field(default_factory=list)
    """Bytes that had begun to go out to clients."""


def moments(log: Path, folder: Path, names: tuple[str, ...], before: Path) -> Iterator[Disk]:
    """The disk after every call; `before` holds the files as they were when it began."""
    disk = Disk({
        str(folder / name): Stored(bytearray(_content(before / name))) for name in names
    })  # fmt: skip
    begun: dict[str, tuple[Call, int]] = {}
    for line in log.read_text(encoding="ascii", errors="replace").splitlines():
        call = _CALL.match(line)
        if call is not None:
            thread, row = call[1], _call(call)
            stored = disk.files.get(row.path)
            begun[thread] = row, len(stored.since) if stored else 0
            result = _RESULT.search(line)
            if result is None:
                if row.name == "sendto":
                    disk.answers.append(row.data)
                continue
            done = int(result[1])
        else:
            resumed = _RESUMED.match(line)
            if resumed is None or resumed[1] not in begun:
                continue
            thread, done = resumed[1], int(resumed[3])
            if begun[thread][0].name == "sendto":
                continue
        row, count = begun.pop(thread)
        _follow(disk, row, count, done)
        yield disk


def _follow(disk: Disk, call: Call, count: int, done: int) -> None:
    stored = disk.files.get(call.path)
    if call.name == "sendto":
        disk.answers.append(call.data)
    elif stored is None or done < 0:
        return
    elif call.name in ("fsync", "fdatasync"):
        stored.sync(count)
    else:
        stored.write(call)


def image(disk: Disk, folder: Path, chance: random.Random) -> None:
    """Write what is found after a cut into a folder."""
    for path, stored in disk.files.items():
        (folder / Path(path).name).write_bytes(stored.after_a_cut(chance))


def forgetful(disk: Disk, before: Path) -> Disk:
    """The same moment on a disk that never did what a sync asked for; to see that it shows."""
    lost = copy.deepcopy(disk)
    for path, stored in lost.files.items():
        stored.sure, stored.since = bytearray(_content(before / Path(path).name)), []
    return lost


def _call(match: re.Match[str]) -> Call:
    text = _TEXT.match(match[5])
    rest = match[5][text.end() :] if text else match[5]
    numbers = tuple(int(number) for number in re.findall(r"(?<![\w.])\d+", rest.split(")")[0]))
    return Call(match[2], _plain(match[4]).decode(), _plain(text[1]) if text else b"", numbers)


def _plain(text: str) -> bytes:
    if not text.startswith("\\x"):
        return text.encode()
    return bytes.fromhex(text.replace("\\x", ""))


def _apply(content: bytearray, call: Call, arrives: Callable[[], bool]) -> None:
    if call.name == "ftruncate":
        if arrives():
            (length,) = call.numbers[-1:]
            del content[length:]
            content.extend(bytes(length - len(content)))
        return
    offset = call.numbers[-1]
    if len(content) < offset + len(call.data):
        content.extend(bytes(offset + len(call.data) - len(content)))
    for start in range(0, len(call.data), SECTOR):
        if arrives():
            piece = call.data[start : start + SECTOR]
            content[offset + start : offset + start + len(piece)] = piece


def _content(path: Path) -> bytes:
    return path.read_bytes() if path.exists() else b""
