"""Backing up a shop while it is at work: its records as of one moment, its files, its secrets."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine

from shopflow.backup import rows
from shopflow.backup.archive import SECRETS, Manifest, pack
from shopflow.backup.integrity import damage
from shopflow.backup.rotation import name_at
from shopflow.config import DATABASE_FILE, FILES_FOLDER
from shopflow.database import READ_ONLY, open_engine, revision_of, upgrade
from shopflow.errors import ShopflowError
from shopflow.files import FileStore, settle
from shopflow.resources import VERSION
from shopflow.texts import gettext

UNFINISHED = ".unfinished-"
LAST = "last-backup"
"""File in the data folder that says when a backup was made last."""


@dataclass(frozen=True, slots=True)
class Archive:
    """A backup, whole and on the disk."""

    path: Path
    manifest: Manifest


def make(engine: Engine, data: Path, folder: Path, at: datetime) -> Archive:
    """Back a shop's records, files and secrets up into a folder of backups.

    Nobody waits for it: the records are read in one transaction beside the writers. Files are
    never changed or deleted and are on the disk before a record names them, so those copied after
    the records cover all that these name. Raises ShopflowError where the records are damaged or
    the folder cannot be written to; nothing is left in it then.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=folder) as name:
            copied = Path(name) / DATABASE_FILE
            manifest = _records(engine, copied, at)
            members = [(DATABASE_FILE, copied), *_kept_beside(data)]
            return _written(folder / name_at(at), Path(name) / "archive.tar", manifest, members)
    except (OSError, sqlite3.Error) as error:
        raise ShopflowError(
            gettext("no backup was made in {folder}: {error}", folder=folder, error=error)
        ) from None


def _records(engine: Engine, target: Path, at: datetime) -> Manifest:
    """Copy a shop's records as of now into a SQLite file; return their manifest."""
    if engine.dialect.name == "sqlite":
        _copy_file(engine, target)
    else:
        _copy_rows(engine, target)
    copied = open_engine(f"sqlite:///{target}")
    try:
        with copied.execution_options(**READ_ONLY).connect() as connection:
            faults = damage(connection)
            if faults:
                raise ShopflowError(
                    gettext(
                        "no backup was made, since the records are damaged: {faults}. Backups "
                        "made before are left as they are; run 'shopflow check'",
                        faults=faults[0],
                    )
                )
            return Manifest(
                made_at=at.isoformat(),
                software=VERSION,
                revision=revision_of(connection),
                database=engine.dialect.name,
                tables=dict(rows.tallies(connection)),
            )
    finally:
        copied.dispose()


def _copy_file(engine: Engine, target: Path) -> None:
    """SQLite's own online backup, in one step: readers and writers go on beside it."""
    pooled = engine.raw_connection()
    try:
        source = pooled.driver_connection
        assert isinstance(source, sqlite3.Connection)
        copied = sqlite3.connect(target)
        try:
            source.backup(copied)
        finally:
            copied.close()
    finally:
        pooled.close()


def _copy_rows(engine: Engine, target: Path) -> None:
    """Every row as one transaction sees it, into a SQLite file of the same schema."""
    copied = open_engine(f"sqlite:///{target}")
    try:
        upgrade(copied)
        snapshot = engine.execution_options(
            isolation_level="REPEATABLE READ", postgresql_readonly=True
        )
        with snapshot.connect() as source, copied.begin() as connection:
            rows.copy(source, connection)
    finally:
        copied.dispose()


def _kept_beside(data: Path) -> Iterator[tuple[str, Path]]:
    """Secrets and files, by the names they have in the shop's folder."""
    for secret in SECRETS:
        if (data / secret).is_file():
            yield secret, data / secret
    for path in FileStore(data / FILES_FOLDER).paths():
        yield path.relative_to(data).as_posix(), path


def _written(
    path: Path, unfinished: Path, manifest: Manifest, members: list[tuple[str, Path]]
) -> Archive:
    """Write under another name, flush to the disk, then rename."""
    with os.fdopen(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        complete = pack(file, manifest, members)
        file.flush()
        os.fsync(file.fileno())
    if path.exists():
        raise ShopflowError(gettext("{path} is there already; it was left as it is", path=path))
    os.replace(unfinished, path)
    settle(path.parent)
    return Archive(path, complete)
