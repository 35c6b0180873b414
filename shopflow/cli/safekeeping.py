"""The commands that keep a shop's records safe: backup, restore, move-to."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from sqlalchemy import Engine

from shopflow.backup import backup as backups
from shopflow.backup import restore as restoring
from shopflow.backup import rotation, to_postgres
from shopflow.backup.archive import SECRETS
from shopflow.cli.records import faults_told, opened
from shopflow.config import DATABASE_FILE, default_data_folder
from shopflow.database import (
    open_engine,
)
from shopflow.errors import NotFoundError
from shopflow.texts import gettext, ngettext


def backup(arguments: argparse.Namespace) -> int:
    """Make a backup, then delete those it supersedes."""
    data = (arguments.data or default_data_folder()).resolve()
    keep = rotation.Keep(arguments.days, arguments.weeks, arguments.months)
    with opened(arguments) as engine:
        now = datetime.now(UTC)
        archive = backups.make(engine, data, arguments.folder.resolve(), now)
    (data / backups.LAST).write_text(f"{now.isoformat()}\n", encoding="ascii")
    manifest = archive.manifest
    secrets = [name for name in SECRETS if name in manifest.members]
    print(gettext("Backed up to {path}, readable to this account alone:", path=archive.path))
    print(
        gettext(
            "  {rows} rows of {tables} tables, as of one moment",
            rows=manifest.rows,
            tables=len(manifest.tables),
        )
    )
    count = len(manifest.members) - 1 - len(secrets)
    print(ngettext("  {num} file", "  {num} files", count))
    print(gettext("  secrets: {names}", names=", ".join(secrets) or gettext("none")))
    for name in rotation.rotate(archive.path.parent, keep, archive.path.name):
        print(gettext("Deleted {name}: newer ones stand for it.", name=name))
    return 0


def restore(arguments: argparse.Namespace) -> int:
    """Make a shop's folder from a backup."""
    if not arguments.file.is_file():
        raise NotFoundError(gettext("there is no backup {file}", file=arguments.file))
    with _engine(arguments.database_url) as engine, faults_told():
        manifest = restoring.restore(arguments.file, arguments.folder, engine)
    print(
        gettext(
            "The shop of {made_at} is restored in {resolve}:",
            made_at=manifest.made_at,
            resolve=arguments.folder.resolve(),
        )
    )
    print(
        gettext(
            "  {rows} rows, {members} files, each as it was backed up",
            rows=manifest.rows,
            members=len(manifest.members),
        )
    )
    where = gettext("--data {folder}", folder=arguments.folder)
    if arguments.database_url:
        where += gettext(" --database-url URL")
    print(gettext("Now: shopflow check {where}, then shopflow serve {where}", where=where))
    return 0


def move_to(arguments: argparse.Namespace) -> int:
    """Move a shop's records into PostgreSQL."""
    data = (arguments.data or default_data_folder()).resolve()
    file = data / DATABASE_FILE
    if not file.is_file():
        raise NotFoundError(gettext("there is no shop in SQLite in {data}", data=data))
    with _engine(arguments.url) as engine, faults_told():
        assert engine is not None
        moved, old_file = to_postgres.move(file, engine)
    for name, tally in moved.items():
        if tally.rows:
            print(f"{tally.rows:>9}  {name}")
    print(
        gettext(
            "Moved {sum} rows, each compared with its copy.",
            sum=sum(tally.rows for tally in moved.values()),
        )
    )
    print(
        gettext("The old records lie in {old_file} and are used no more.", old_file=old_file.name)
    )
    print(gettext("Now: shopflow serve --data {data} --database-url URL", data=data))
    return 0


@contextmanager
def _engine(url: str | None) -> Iterator[Engine | None]:
    """An engine where an address is given."""
    engine = open_engine(url) if url else None
    try:
        yield engine
    finally:
        if engine is not None:
            engine.dispose()


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "backup": backup,
    "restore": restore,
    "move-to": move_to,
}
