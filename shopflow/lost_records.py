"""Recognising a shop whose database is gone, so that nobody is offered to set up a new one."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from shopflow.config import FILES_FOLDER, PAPERS_FOLDER, SET_UP_FILE
from shopflow.database import READ_ONLY
from shopflow.errors import ShopflowError
from shopflow.texts import gettext

SET_UP_WORDS = (
    "A shop has been set up in this folder. shopflow refuses to start here without its records.\n"
)


def refuse_lost_records(engine: Engine, data: Path) -> None:
    """Raise ShopflowError where a shop's folder is there and its records are not.

    Changes nothing in the database, and makes none.
    """
    if _was_set_up(data) and not has_records(engine):
        raise ShopflowError(
            gettext(
                "the database {url} holds no records, but the folder {data} belongs to a shop "
                "that was set up. Restore the latest backup into a new folder with 'shopflow "
                "restore FILE FOLDER'. If the records were moved to PostgreSQL, name them with "
                "--database-url. To start a new shop, move this folder away first",
                url=engine.url,
                data=data,
            )
        )


def has_records(engine: Engine) -> bool:
    """Tell whether a database has a shop or a person in it; so it counts where it cannot be read,
    of which anyone who opens it is told.
    """
    if is_missing(engine):
        return False
    try:
        with engine.execution_options(**READ_ONLY).connect() as connection:
            return any(_has_rows(connection, table) for table in ("shop", "person"))
    except DBAPIError:
        return True


def is_missing(engine: Engine) -> bool:
    """Tell whether a database is an SQLite file that does not exist."""
    file = engine.url.database
    return engine.dialect.name == "sqlite" and bool(file) and not Path(str(file)).is_file()


def mark_set_up(data: Path) -> None:
    """Note in the folder that its shop was set up; a folder that takes nothing goes without."""
    if not (data / SET_UP_FILE).exists():
        with suppress(OSError):
            (data / SET_UP_FILE).write_text(SET_UP_WORDS, encoding="utf-8")


def _was_set_up(data: Path) -> bool:
    if (data / SET_UP_FILE).exists():
        return True
    # Folders of earlier versions have no note.
    return any(
        path.is_file()
        for name in (FILES_FOLDER, PAPERS_FOLDER)
        for path in (data / name).rglob("*")
    )


def _has_rows(connection: Connection, table: str) -> bool:
    if not inspect(connection).has_table(table):
        return False
    return connection.execute(text(f"SELECT 1 FROM {table} LIMIT 1")).first() is not None
