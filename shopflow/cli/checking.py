"""The commands that check a shop's records, and have their proof stamped: check, time-stamp."""

from __future__ import annotations

import argparse
import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from shopflow import time_stamps
from shopflow.backup import integrity
from shopflow.backup.guards import guard_faults
from shopflow.backup.stored_values import damaged
from shopflow.cli.records import faults_told, opened, records
from shopflow.cli.terminal import one_line
from shopflow.config import FILES_FOLDER, default_data_folder
from shopflow.database import (
    READ_ONLY,
    is_later,
    later_words,
    newest_revision,
    revision_of,
    session_factory,
)
from shopflow.errors import ShopflowError
from shopflow.files import FileStore
from shopflow.fonts import files
from shopflow.models import AnchorKind
from shopflow.services.actor import Actor
from shopflow.services.integrity import examine, record_log
from shopflow.services.integrity.finding import Faults, Finding
from shopflow.tamper_evidence import log
from shopflow.texts import gettext, ngettext

MOST_FAULTS = 20
"""Faults of one check that are listed; the rest are counted."""


def check(arguments: argparse.Namespace) -> int:
    """Say of everything kept whether it is whole; 1 where anything is not."""
    if arguments.accept is not None:
        return _accept(arguments)
    data = arguments.data or default_data_folder()
    store = FileStore(data / FILES_FOLDER)
    sound = True
    # As it lies there: bringing a damaged database up to date would be refused.
    with opened(arguments, as_it_is=True) as engine:
        for finding in _findings(engine, store, data):
            _say(finding)
            sound = sound and not finding.faults
    print(gettext("All is whole.") if sound else gettext("NOT ALL IS WHOLE: see above."))
    return 0 if sound else 1


def _accept(arguments: argparse.Namespace) -> int:
    """Take records that differ from the record log into it as they stand."""
    with records(arguments) as db:
        count = record_log.accept(db, Actor.now(None), arguments.accept)
    print(
        ngettext(
            "{num} row accepted as it stands; the log of changes says so.",
            "{num} rows accepted as they stand; the log of changes says so.",
            count,
        )
    )
    return 0


def time_stamp(arguments: argparse.Namespace) -> int:
    """Have an authority put its time on the head of the record log."""
    data = arguments.data or default_data_folder()
    with opened(arguments) as engine, faults_told():
        # Nobody waits to write while the authority is waited for.
        with session_factory(engine.execution_options(**READ_ONLY))() as db:
            head = log.head(db.connection())
        content = time_stamps.message(head.size, head.root)
        reply, at = time_stamps.stamp(arguments.authority, content, data)
        with session_factory(engine).begin() as db:
            sent_to = arguments.authority[:200]
            log.anchor(db.connection(), AnchorKind.TIME_STAMP, at, head, sent_to, reply)
    print(
        gettext(
            "{size} entries of the record log are stamped as of {at} UTC.",
            size=head.size,
            at=f"{at.astimezone(UTC):%Y-%m-%d %H:%M:%S}",
        )
    )
    return 0


def _findings(engine: Engine, store: FileStore, data: Path) -> Iterator[Finding]:
    reading = engine.execution_options(**READ_ONLY)
    restore = gettext("restore the last backup that passes 'shopflow check' into a new folder")
    event.listen(engine, "checkout", _read_damaged_text)
    with reading.connect() as connection:
        _refuse_other_schema(revision_of(connection))
        yield Finding.of(
            gettext("database is whole, references lead somewhere"),
            _or_sound(integrity.damage(connection)),
            restore,
        )
        yield Finding.of(
            gettext("triggers do what shopflow's do"),
            guard_faults(connection),
            gettext(
                "somebody changed the database's guards: find out who, restore the last backup "
                "that passes, and compare what was issued since with its copies outside"
            ),
        )
        yield Finding.of(
            gettext("values can be read"),
            damaged(connection),
            gettext("copy the value named from a backup, or restore the last backup that passes"),
        )
    yield Finding.of(
        gettext("index of look-ups is as the texts"),
        _or_sound(integrity.astray(engine)),
        gettext("build the index again: Help, Running the server"),
    )
    yield Finding(
        gettext("typefaces are those of this version"),
        len(files.sums()),
        tuple(files.damage()),
        gettext("install shopflow again"),
    )
    with session_factory(reading)() as db:
        yield from record_log.log_findings(db)
        yield _stamps(db, data)
        yield from examine.examine(db, store)


def _or_sound(faults: list[str]) -> Faults:
    """The faults of one thing that is looked at whole."""
    yield from faults
    if not faults:
        yield None


def _stamps(db: Session, data: Path) -> Finding:
    """The time stamps against the heads they are of, and their authority's certificate."""

    def faults() -> Faults:
        for anchor in record_log.stamped(db):
            content = time_stamps.message(anchor.size, anchor.root)
            try:
                time_stamps.verified(anchor.reply or b"", content, data)
            except ShopflowError as error:
                yield gettext("record_log_anchor, row {key}: {error}", key=anchor.id, error=error)
            else:
                yield None

    return Finding.of(
        gettext("time stamps are the authority's"),
        faults(),
        gettext("see Help, Running the server, Proof of records"),
    )


def _read_damaged_text(driver: Any, record: object, proxy: object) -> None:
    """Let SQLite's driver give text that is no UTF-8, so that a check can name it."""
    if isinstance(driver, sqlite3.Connection):
        driver.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")


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
    if finding.faults and finding.advice:
        print(gettext("       What to do: {advice}.", advice=finding.advice))


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "check": check,
    "time-stamp": time_stamp,
}
