"""Integrity of a database: its pages, its references, and its index of look-ups."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import Connection, Engine, ForeignKeyConstraint, func, select, text

from shopflow.models import Base
from shopflow.models.lookup_text import TRIGRAMS
from shopflow.texts import gettext


def damage(connection: Connection) -> list[str]:
    """Describe damage to the database's pages, indexes and references; empty for none."""
    return [*_pages(connection), *_references(connection)]


def astray(engine: Engine) -> list[str]:
    """Describe errors in the search index; PostgreSQL keeps its own index itself.

    SQLite checks it against the texts only where it may write, so it is given a copy: no connection
    waits for the check, and the shop's own file may be read-only.
    """
    if engine.dialect.name != "sqlite":
        return []
    try:
        with TemporaryDirectory() as folder, closing(_copied(engine, Path(folder))) as copy:
            copy.execute(f"INSERT INTO {TRIGRAMS} ({TRIGRAMS}, rank) VALUES ('integrity-check', 1)")
    except sqlite3.OperationalError as error:
        return [gettext("it could not be looked at: {error}", error=error)]
    except sqlite3.DatabaseError as error:
        return [
            gettext(
                "look-ups may miss jobs; Help, Running the server, tells how to build their index "
                "again: {error}",
                error=error,
            )
        ]
    return []


def _copied(engine: Engine, folder: Path) -> sqlite3.Connection:
    """A copy of an SQLite database, as of one moment."""
    copy = sqlite3.connect(folder / "copy.db")
    with engine.connect() as connection:
        driver: Any = connection.connection.driver_connection
        driver.backup(copy)
    return copy


def _pages(connection: Connection) -> Iterator[str]:
    """Damage by SQLite's own check of its file; PostgreSQL finds a damaged page when it is read."""
    if connection.dialect.name == "sqlite":
        for fault in connection.scalars(text("PRAGMA integrity_check(20)")):
            if fault != "ok":
                yield gettext("the database file is damaged: {fault}", fault=fault)


def _references(connection: Connection) -> Iterator[str]:
    for table in Base.metadata.sorted_tables:
        for key in sorted(table.foreign_key_constraints, key=lambda key: str(key.name)):
            count = _dangling(connection, key)
            if count:
                yield gettext(
                    "{count} rows of {table} name a row of {referred} that is not there "
                    "({columns})",
                    count=count,
                    table=table.name,
                    referred=key.referred_table.name,
                    columns=", ".join(key.column_keys),
                )


def _dangling(connection: Connection, key: ForeignKeyConstraint) -> int:
    """Rows that refer to nothing by a foreign key."""
    referred = key.referred_table.alias()
    pairs = [(item.parent, referred.c[item.column.name]) for item in key.elements]
    query = select(func.count()).select_from(key.table)
    for own, _ in pairs:
        query = query.where(own.is_not(None))
    there = select(1).where(*(own == other for own, other in pairs)).correlate(key.table)
    return int(connection.scalar(query.where(~there.exists())) or 0)
