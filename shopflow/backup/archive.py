"""The backup file: a plain tar that unpacks to a shop's folder, and its manifest."""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import os
import re
import tarfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from shopflow.backup.rows import Tally
from shopflow.config import DATABASE_FILE, FILES_FOLDER, SECRET_FILE
from shopflow.errors import ShopflowError
from shopflow.signing import EARLIER_FILE, KEY_FILE
from shopflow.texts import gettext

MANIFEST = "manifest.json"
SECRETS = (SECRET_FILE, KEY_FILE, EARLIER_FILE)
"""Secrets a shop cannot run without and cannot create again."""

_MEMBER = re.compile(
    rf"{re.escape(DATABASE_FILE)}|{'|'.join(map(re.escape, SECRETS))}"
    rf"|{FILES_FOLDER}/[0-9a-f]{{2}}/[0-9a-f]{{2}}/[0-9a-f]{{64}}"
)
_PIECE = 1024 * 1024
_LARGEST_MANIFEST = 256 * 1024 * 1024


class ArchiveError(ShopflowError):
    """A file is no whole backup."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """Description of a backup's contents, kept inside it."""

    made_at: str
    software: str
    revision: str
    """Of the schema."""

    database: str
    """Kind of the database it was taken from."""

    tables: dict[str, Tally]
    members: dict[str, str] = dataclasses.field(default_factory=dict)
    """SHA-256 of each file in it, by its name."""

    @property
    def rows(self) -> int:
        """Rows of all tables."""
        return sum(tally.rows for tally in self.tables.values())

    @classmethod
    def loads(cls, text: bytes) -> Manifest:
        """From its JSON. Raises ArchiveError."""
        try:
            plain = json.loads(text)
            tables = {name: Tally(**tally) for name, tally in plain.pop("tables").items()}
            return cls(**plain, tables=tables)
        except (ValueError, TypeError, KeyError, AttributeError):
            raise ArchiveError(gettext("the backup's manifest cannot be read")) from None

    def dumps(self) -> bytes:
        """As JSON."""
        return json.dumps(dataclasses.asdict(self), indent=1).encode()


def pack(target: IO[bytes], manifest: Manifest, members: Iterable[tuple[str, Path]]) -> Manifest:
    """Write files under their names, the manifest last; return the manifest as written.

    Raises OSError where a file cannot be read or the archive not written.
    """
    digests: dict[str, str] = {}
    with tarfile.open(fileobj=target, mode="w", format=tarfile.PAX_FORMAT) as tar:
        for name, path in members:
            with path.open("rb") as file:
                hashing = _Hashing(file)
                tar.addfile(_info(name, os.fstat(file.fileno()).st_size), hashing)
            digests[name] = hashing.sha256.hexdigest()
        complete = dataclasses.replace(manifest, members=digests)
        text = complete.dumps()
        tar.addfile(_info(MANIFEST, len(text)), io.BytesIO(text))
    return complete


def unpack(path: Path, folder: Path) -> Manifest:
    """Write a backup's files into an empty folder, each checked against the manifest.

    Raises ArchiveError where the backup is not whole, or holds what no backup does; OSError where
    the folder cannot be written to.
    """
    digests: dict[str, str] = {}
    manifest: Manifest | None = None
    try:
        with tarfile.open(path, mode="r:") as tar:
            for info in tar:
                file = tar.extractfile(info) if info.isreg() else None
                if file is None:
                    raise ArchiveError(
                        gettext("the backup holds {info}, which is no file", info=info.name)
                    )
                if info.name == MANIFEST:
                    manifest = Manifest.loads(file.read(_LARGEST_MANIFEST))
                elif _MEMBER.fullmatch(info.name):
                    digests[info.name] = _write(file, folder / info.name)
                else:
                    raise ArchiveError(
                        gettext(
                            "the backup holds {info}, which is none of a shop's", info=info.name
                        )
                    )
    except tarfile.TarError as error:
        raise ArchiveError(
            gettext("{path} is no backup, or it is cut off: {error}", path=path, error=error)
        ) from None
    if manifest is None:
        raise ArchiveError(gettext("{path} is cut off: its manifest is missing", path=path))
    _refuse_damage(manifest, digests)
    return manifest


def _refuse_damage(manifest: Manifest, digests: dict[str, str]) -> None:
    if DATABASE_FILE not in digests:
        raise ArchiveError(gettext("the backup holds no records"))
    names = sorted({*manifest.members, *digests})
    damaged = [name for name in names if manifest.members.get(name) != digests.get(name)]
    if damaged:
        raise ArchiveError(
            gettext(
                "the backup is damaged: not as made are {damaged}", damaged=", ".join(damaged[:5])
            )
        )


def _write(file: IO[bytes], path: Path) -> str:
    """Write one file, readable to its owner alone, onto the disk; its SHA-256."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    hashing = _Hashing(file)
    with os.fdopen(descriptor, "wb") as target:
        while piece := hashing.read(_PIECE):
            target.write(piece)
        target.flush()
        os.fsync(target.fileno())
    return hashing.sha256.hexdigest()


def _info(name: str, size: int) -> tarfile.TarInfo:
    info = tarfile.TarInfo(name)
    info.size, info.mode = size, 0o600
    return info


class _Hashing(io.RawIOBase):
    """A file being read, and the SHA-256 of what was read of it."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.sha256 = hashlib.sha256()

    def read(self, size: int = -1) -> Any:
        piece = self._file.read(size)
        self.sha256.update(piece)
        return piece
