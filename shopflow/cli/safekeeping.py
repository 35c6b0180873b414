"""The commands that keep a shop's records safe: backup, restore, check, move-to."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from sqlalchemy import Engine

from shopflow.backup import backup as backups
from shopflow.backup import integrity, rotation, to_postgres
from shopflow.backup import restore as restoring
from shopflow.backup.archive import SECRETS
from shopflow.cli.records import faults_told, opened
from shopflow.cli.terminal import one_line
from shopflow.config import DATABASE_FILE, FILES_FOLDER, default_data_folder
from shopflow.database import (
    READ_ONLY,
    is_later,
    later_words,
    newest_revision,
    open_engine,
    revision_of,
    session_factory,
)
from shopflow.errors import NotFoundError, ShopflowError
from shopflow.files import FileStore
from shopflow.fonts import files
from shopflow.services.certificates import integrity_check
from shopflow.services.certificates.integrity_check import Finding
from shopflow.texts import gettext, ngettext

MOST_FAULTS = 20
"""Faults of one check that are listed; the rest are counted."""


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


def check(arguments: argparse.Namespace) -> int:
    """Say of everything kept whether it is whole; 1 where anything is not."""
    store = FileStore((arguments.data or default_data_folder()) / FILES_FOLDER)
    sound = True
    # As it lies there: bringing a damaged database up to date would be refused.
    with opened(arguments, as_it_is=True) as engine:
        for finding in _findings(engine, store):
            _say(finding)
            sound = sound and not finding.faults
    print(gettext("All is whole.") if sound else gettext("NOT ALL IS WHOLE: see above."))
    return 0 if sound else 1


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


def _findings(engine: Engine, store: FileStore) -> Iterator[Finding]:
    reading = engine.execution_options(**READ_ONLY)
    with reading.connect() as connection:
        _refuse_other_schema(revision_of(connection))
        yield Finding(
            gettext("database is whole, references lead somewhere"),
            1,
            tuple(integrity.damage(connection)),
        )
        yield Finding(
            gettext("tables have their triggers"),
            1,
            tuple(
                gettext("{name}: its triggers are gone", name=name)
                for name in integrity.unguarded(connection)
            ),
        )
    yield Finding(gettext("index of look-ups is as the texts"), 1, tuple(integrity.astray(engine)))
    yield Finding(
        gettext("typefaces are those of this version"), len(files.sums()), tuple(files.damage())
    )
    with session_factory(reading)() as db:
        yield from integrity_check.examine(db, store)


def _refuse_other_schema(revision: str) -> None:
    """Say of records that cannot be checked as they are what to do first."""
    newest = newest_revision()
    if not revision:
        raise ShopflowError(
            gettext(
                "this database is empty: it has no records to check. Restore a backup with "
                "'shopflow restore FILE FOLDER', or set up a new shop with 'shopflow serve'"
            )
        )
    if is_later(revision):
        raise ShopflowError(later_words(revision))
    if revision != newest:
        raise ShopflowError(
            gettext(
                "the records are of schema revision {revision}, this version's is "
                "{newest}: make a backup, then bring them up to date with 'shopflow "
                "serve'",
                revision=revision,
                newest=newest,
            )
        )


def _say(finding: Finding) -> None:
    state = gettext("WRONG") if finding.faults else gettext("ok")
    print(
        gettext(
            "{state:6} {what}: {count} looked at",
            state=state,
            what=finding.what,
            count=finding.count,
        )
    )
    for fault in finding.faults[:MOST_FAULTS]:
        print(f"       {one_line(fault)}")
    if len(finding.faults) > MOST_FAULTS:
        print(
            gettext("       and {most_faults} more", most_faults=len(finding.faults) - MOST_FAULTS)
        )


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
    "check": check,
    "move-to": move_to,
}
