"""Contents in storage that several machines reach, with the shop's folder as the near copy."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shopflow.errors import NotFoundError, ShopflowError
from shopflow.files.store import FileStore


@dataclass(frozen=True, slots=True)
class SharedStore(FileStore):
    """A store at an fsspec URL, as "s3://bucket/files" or "file:///mnt/shared".

    What is kept is named by its own SHA-256 and never changes, so a copy in the folder is as good
    as the original.
    """

    url: str

    def put(self, content: bytes) -> str:
        """Keep some bytes near by and in the storage; return their SHA-256.

        Once this returns the storage has taken all of them. Raises OSError where it does not:
        put again, they are sent again.
        """
        name = FileStore.put(self, content)
        storage, path = self._shared(name)
        if not storage.exists(path):
            storage.makedirs(path.rpartition("/")[0], exist_ok=True)
            # Written under another name or not at all until it is whole, where storage can.
            with storage.transaction, storage.open(path, "wb") as file:
                file.write(content)
        return name

    def get(self, name: str) -> bytes:
        """The bytes of a SHA-256. Raises NotFoundError where they are nowhere."""
        try:
            return FileStore.get(self, name)
        except NotFoundError:
            storage, path = self._shared(name)
            try:
                content: bytes = storage.cat_file(path)
            except FileNotFoundError:
                raise NotFoundError("this file is missing from the shop's storage") from None
        if FileStore.put(self, content) != name:
            raise NotFoundError("this file is not as it was stored")
        return content

    def has(self, name: str) -> bool:
        """Whether the bytes of a SHA-256 are near by or in the storage."""
        storage, path = self._shared(name)
        return FileStore.has(self, name) or bool(storage.exists(path))

    def sweep(self, before: float) -> None:
        """Let go of all that was kept before a moment, near by and in the storage."""
        FileStore.sweep(self, before)
        storage, root = _opened(self.url)
        for path in storage.find(root):
            # Another process may be sweeping too.
            with suppress(FileNotFoundError):
                if storage.modified(path).timestamp() < before:
                    storage.rm_file(path)

    def _shared(self, name: str) -> tuple[Any, str]:
        """The storage, and where in it the bytes of a SHA-256 lie."""
        storage, root = _opened(self.url)
        return storage, f"{root}/{self._path(name).relative_to(self.folder)}"


def store_for(folder: Path, url: str) -> FileStore:
    """The store of a shop: its folder, or the storage at a URL with the folder near by."""
    return SharedStore(folder, url) if url else FileStore(folder)


def _opened(url: str) -> tuple[Any, str]:
    """The storage of a URL and the path in it; one of its own, since a transaction is not shared.

    Raises ShopflowError where what it needs is not installed.
    """
    try:
        from fsspec.core import url_to_fs

        storage, root = url_to_fs(url, skip_instance_cache=True)
    except (ImportError, ValueError) as error:
        raise ShopflowError(f"no files at {url}: {error}; see 'shopflow[shared]'") from None
    return storage, root.rstrip("/")
