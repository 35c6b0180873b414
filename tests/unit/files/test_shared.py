"""Contents in shared storage, on fsspec's own memory and local file systems."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import fsspec
import pytest

from shopflow.errors import NotFoundError, ShopflowError, StorageError
from shopflow.files import FileStore, SharedStore, store_for
from tests.unit.files.test_store import ABC


@pytest.fixture(params=["memory", "file"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Storage of either kind, empty at the end."""
    if request.param == "file":
        (tmp_path / "shared").mkdir()
        yield f"file://{tmp_path / 'shared'}"
    else:
        yield "memory://shopflow-files"
        fsspec.filesystem("memory").store.clear()


def test_what_one_machine_keeps_another_reads(url: str, tmp_path: Path) -> None:
    item, other = SharedStore(tmp_path / "one", url), SharedStore(tmp_path / "other", url)
    assert item.put(b"abc") == ABC
    assert other.get(ABC) == b"abc"
    # From then on it is near by.
    assert FileStore(tmp_path / "other").get(ABC) == b"abc"


def test_a_lost_folder_is_filled_again_from_the_storage(url: str, tmp_path: Path) -> None:
    store = store_for(tmp_path / "one", url)
    store.put(b"abc")
    shutil.rmtree(tmp_path / "one")
    assert store.get(ABC) == b"abc"
    store.put(b"abc")


def test_what_is_nowhere_or_no_longer_itself_is_not_given_out(url: str, tmp_path: Path) -> None:
    store = SharedStore(tmp_path / "one", url)
    for name in (ABC, "../secret.key"):
        with pytest.raises(NotFoundError):
            store.get(name)
    storage, root = fsspec.core.url_to_fs(url)
    storage.makedirs(f"{root}/ba/78", exist_ok=True)
    storage.pipe_file(f"{root}/ba/78/{ABC}", b"abd")
    with pytest.raises(NotFoundError, match="not as it was stored"):
        store.get(ABC)


def test_a_folder_that_is_not_mounted_is_not_made_in_its_place(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="No such file"):
        SharedStore(tmp_path / "one", f"file://{tmp_path / 'away'}").put(b"abc")
    assert not (tmp_path / "away").exists()


def test_what_is_old_is_let_go_of_near_by_and_in_the_storage(url: str, tmp_path: Path) -> None:
    store, other = (SharedStore(tmp_path / name, url) for name in ("one", "other"))
    store.put(b"abc")
    store.sweep(time.time() - 60.0)
    assert other.has(ABC)
    store.sweep(time.time() + 60.0)
    assert not store.has(ABC)
    assert not other.has(ABC)


def test_what_is_put_again_counts_as_new_in_the_storage_too(url: str, tmp_path: Path) -> None:
    store, other = (store_for(tmp_path / name, url, "counter") for name in ("one", "other"))
    store.put(b"abc")
    time.sleep(0.05)
    between = time.time()
    time.sleep(0.05)
    store.put(b"abc")
    store.sweep(between)
    assert other.get(ABC) == b"abc"


def test_without_a_url_the_folder_is_the_store(tmp_path: Path) -> None:
    assert store_for(tmp_path, "") == FileStore(tmp_path)


def test_a_url_nothing_installed_knows_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(ShopflowError, match="no files at"):
        SharedStore(tmp_path, "nowhere://bucket/files").put(b"abc")
