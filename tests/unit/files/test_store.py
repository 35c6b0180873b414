"""The store of contents: whole or not there, once each, named by their SHA-256."""

from __future__ import annotations

import hashlib
import os
import re
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from shopflow.errors import NotFoundError
from shopflow.files import FileStore

# FIPS 180-4's own example: the SHA-256 of "abc".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def stored_files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_contents_lie_two_folders_deep_under_their_sha256(tmp_path):
    store = FileStore(tmp_path / "files")
    assert store.put(b"abc") == ABC
    (path,) = stored_files(tmp_path)
    assert path == tmp_path / "files" / "ba" / "78" / ABC
    assert store.get(ABC) == b"abc"


def test_the_same_contents_are_written_once(tmp_path):
    store = FileStore(tmp_path)
    store.put(b"abc")
    (path,) = stored_files(tmp_path)
    before = path.stat()
    store.put(b"abc")
    assert [path.stat().st_ino for path in stored_files(tmp_path)] == [before.st_ino]


def test_what_comes_again_counts_as_new(tmp_path):
    store = FileStore(tmp_path)
    store.put(b"abc")
    os.utime(stored_files(tmp_path)[0], (0, 0))
    store.put(b"abc")
    store.sweep(time.time() - 60.0)
    assert store.has(ABC)
    store.sweep(time.time() + 60.0)
    assert not store.has(ABC)


def test_many_at_once_leave_one_whole_file(tmp_path):
    content = b"0123456789" * 100_000
    with ThreadPoolExecutor(8) as pool:
        names = set(pool.map(lambda _: FileStore(tmp_path).put(content), range(16)))
    assert names == {hashlib.sha256(content).hexdigest()}
    assert [path.read_bytes() for path in stored_files(tmp_path)] == [content]


def test_a_disk_that_fills_up_leaves_nothing_behind(tmp_path, monkeypatch):
    def disk_full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", disk_full)
    with pytest.raises(OSError, match="No space"):
        FileStore(tmp_path).put(b"abc")
    assert stored_files(tmp_path) == []


@pytest.mark.parametrize("name", [ABC, "", "../../etc/passwd", ABC.upper(), ABC + "\n"])
def test_what_is_not_there_or_no_name_at_all_is_not_found(tmp_path, name):
    with pytest.raises(NotFoundError):
        FileStore(tmp_path).get(name)


def test_names_hold_nothing_but_digits(tmp_path):
    assert re.fullmatch("[0-9a-f]{64}", FileStore(tmp_path).put(b"x"))
