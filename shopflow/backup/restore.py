"""Restoring a backup in an empty place: all of it, or nothing."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from sqlalchemy import Engine

from shopflow.backup import rows
from shopflow.backup.archive import Manifest, unpack
from shopflow.backup.backup import UNFINISHED
from shopflow.config import DATABASE_FILE
from shopflow.database import READ_ONLY, open_engine, revision_of, upgrade
from shopflow.errors import ShopflowError
from shopflow.files import settle
from shopflow.texts import gettext


def restore(archive: Path, folder: Path, database: Engine | None = None) -> Manifest:
    """Make a shop's folder from a backup; the records go into a database where one is given.

    Raises ShopflowError where the backup is not whole, or the folder or the database is not
    empty; nothing is left behind then.
    """
    folder = folder.resolve()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ShopflowError(
            gettext(
                "{folder} holds something already; name a new or an empty folder", folder=folder
            )
        )
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=folder.parent) as name:
            shop = Path(name) / "shop"
            shop.mkdir(mode=0o700)
            manifest = unpack(archive, shop)
            if database is not None:
                _into(database, shop / DATABASE_FILE, manifest)
            # An empty folder is replaced in one step.
            os.replace(shop, folder)
            settle(folder.parent)
    except OSError as error:
        raise ShopflowError(
            gettext("nothing was restored into {folder}: {error}", folder=folder, error=error)
        ) from None
    return manifest


def _into(database: Engine, file: Path, manifest: Manifest) -> None:
    """Put the records into a database, and take their file away: a shop has one set of records."""
    source = open_engine(f"sqlite:///{file}")
    try:
        # A backup made by an older version comes up to this one first.
        upgrade(source)
        upgrade(database)
        reading = source.execution_options(**READ_ONLY)
        with reading.connect() as records, database.begin() as target:
            copied = rows.copy_checked(records, target)
            if revision_of(records) == manifest.revision:
                rows.refuse_difference(manifest.tables, copied)
    finally:
        source.dispose()
    for path in file.parent.glob(f"{DATABASE_FILE}*"):
        path.unlink()
