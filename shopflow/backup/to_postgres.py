"""Moving a shop's records from SQLite to PostgreSQL: counted, compared, all or nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import StaticPool

from shopflow.backup import rows
from shopflow.database import open_engine, upgrade
from shopflow.errors import ShopflowError
from shopflow.texts import gettext

MOVED = "-moved"
"""Suffix of a database's file once its records are in another database."""


def move(file: Path, target: Engine) -> tuple[rows.Tallies, Path]:
    """Copy every record of a SQLite shop into an empty PostgreSQL database.

    Returns the tallies and where the old file lies now: under another name, so that nobody goes
    on writing into it. Raises ShopflowError where the shop is being served, where the target is
    not an empty PostgreSQL database, or where any row came out otherwise: both are as before then.
    """
    if target.dialect.name != "postgresql":
        raise ShopflowError(
            gettext(
                "a shop is moved to PostgreSQL; for another folder, back it up and restore it there"
            )
        )
    _bring_up_to_date(file)
    upgrade(target)
    with _alone(file) as source, source.begin() as records, target.begin() as connection:
        moved = rows.copy_checked(records, connection)
    old_file = file.with_name(file.name + MOVED)
    file.rename(old_file)
    return moved, old_file


def _bring_up_to_date(file: Path) -> None:
    engine = open_engine(f"sqlite:///{file}")
    try:
        upgrade(engine)
    finally:
        engine.dispose()


@contextmanager
def _alone(file: Path) -> Iterator[Engine]:
    """A SQLite shop that nobody else has open, held shut for as long as the block lasts.

    Leaving write-ahead mode is refused while any other connection is there, which tells.
    """
    engine = create_engine(f"sqlite:///{file}", poolclass=StaticPool)

    @event.listens_for(engine, "connect")
    def leave_log(connection: sqlite3.Connection, record: object) -> None:
        connection.isolation_level = None
        connection.execute("PRAGMA busy_timeout=2000")
        connection.execute("PRAGMA journal_mode=DELETE")

    @event.listens_for(engine, "begin")
    def shut(connection: object) -> None:
        connection.exec_driver_sql("BEGIN EXCLUSIVE")  # type: ignore[attr-defined]

    try:
        engine.connect().close()
        yield engine
    except OperationalError as error:
        if "locked" not in str(error.orig):
            raise
        raise ShopflowError(
            gettext(
                "{file} is in use: stop 'shopflow serve' and 'shopflow send', then move it. "
                "Nothing was changed",
                file=file,
            )
        ) from None
    finally:
        engine.dispose()
