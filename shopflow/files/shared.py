"""Contents in storage that several machines reach, with the shop's folder as the near copy."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from shopflow.errors import NotFoundError, ShopflowError, StorageError
from shopflow.files.store import FileStore
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class SharedStore(FileStore):
    """A store at an fsspec URL, as "s3://bucket/files" or "file:///mnt/shared".

    What is kept is named by its own SHA-256 and never changes, so a copy in the folder is as good
    as the original.
    """

    url: str
    within: Path = Path()
    """A folder of the storage for these contents alone, made where it is lacking."""

    @property
    def is_swept(self) -> bool:
        """True where its contents are temporary: those of a folder of their own."""
        return self.within != Path()

    def put(self, content: bytes) -> str:
        """Keep some bytes near by and in the storage; return their SHA-256.

        Once this returns the storage has taken all of them. Raises StorageError where it does not:
        put again, they are sent again.
        """
        name = FileStore.put(self, content)
        with _reached(self.url) as (storage, root):
            path = f"{root}/{self._within(name)}"
            # What is swept is sent again, so that it counts as new there too.
            if self.is_swept or not storage.exists(path):
                _make_folders(storage, root, self._within(name))
                # Written under another name or not at all until it is whole, where storage can.
                with storage.transaction, storage.open(path, "wb") as file:
                    file.write(content)
        return name

    def get(self, name: str) -> bytes:
        """The bytes of a SHA-256.

        Raises NotFoundError where they are nowhere, StorageError where the storage cannot say.
        """
        try:
            return FileStore.get(self, name)
        except NotFoundError:
            with _reached(self.url) as (storage, root):
                try:
                    content: bytes = storage.cat_file(f"{root}/{self._within(name)}")
                except FileNotFoundError:
                    raise NotFoundError(
                        gettext("this file is missing from the shop's storage")
                    ) from None
        if FileStore.put(self, content) != name:
            raise NotFoundError(gettext("this file is not as it was stored"))
        return content

    def has(self, name: str) -> bool:
        """True where the bytes of a SHA-256 are on this machine or in the storage.

        Raises StorageError where the storage cannot say.
        """
        if FileStore.has(self, name):
            return True
        with _reached(self.url) as (storage, root):
            return bool(storage.exists(f"{root}/{self._within(name)}"))

    def sweep(self, before: float) -> None:
        """Let go of all that was kept before a moment, near by and in the storage.

        Raises StorageError where the storage does not let go.
        """
        FileStore.sweep(self, before)
        with _reached(self.url) as (storage, root):
            for path in storage.find(str(PurePosixPath(root, self.within))):
                # Another process may be sweeping too.
                with suppress(FileNotFoundError):
                    if storage.modified(path).timestamp() < before:
                        storage.rm_file(path)

    def _within(self, name: str) -> Path:
        return self.within / self._path(name).relative_to(self.folder)


def store_for(folder: Path, url: str, within: str = "") -> FileStore:
    """The store of a shop: its folder, or the storage at a URL with the folder near by.

    `within` is a folder of that storage for these contents alone.
    """
    return SharedStore(folder, url, Path(within)) if url else FileStore(folder)


@contextmanager
def _reached(url: str) -> Iterator[tuple[Any, str]]:
    """The storage of a URL and the path in it; one of its own, since a transaction is not shared.

    Raises ShopflowError where what it needs is not installed, StorageError where it fails inside.
    """
    try:
        from fsspec.core import url_to_fs

        storage, root = url_to_fs(url, skip_instance_cache=True)
    except (ImportError, ValueError) as error:
        raise ShopflowError(
            gettext("no files at {url}: {error}; see 'shopflow[shared]'", url=url, error=error)
        ) from None
    try:
        yield storage, root.rstrip("/")
    except ShopflowError:
        raise
    except Exception as error:  # Every kind of storage has errors of its own.
        raise StorageError(
            gettext("the storage of files at {url} failed: {error}", url=url, error=error)
        ) from error


def _make_folders(storage: Any, root: str, within: Path) -> None:
    """Folders under the root, which itself must be there: neither a bucket of another name nor a
    folder where nothing is mounted is ever made.
    """
    for folder in reversed(within.parents[:-1]):
        with suppress(FileExistsError):
            storage.mkdir(f"{root}/{folder}", create_parents=False)
