"""Outages of the disk or the database that no user can fix, and their messages."""

from __future__ import annotations

import errno
import sqlite3
from dataclasses import dataclass

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from shopflow.errors import StorageError
from shopflow.texts import lazy


@dataclass(frozen=True, slots=True)
class Outage:
    """Something the shop's records cannot do just now."""

    title: str
    advice: str
    wait: int
    """Seconds after which trying again makes sense."""


BUSY = Outage(
    lazy("Server busy: not saved"),
    lazy(
        "Other people are saving, or a backup or an upgrade is running. Your changes were not "
        "saved; everything saved earlier is safe. Try again in a few seconds."
    ),
    5,
)
FULL = Outage(
    lazy("The disk is full"),
    lazy(
        "Your changes were not saved; everything saved earlier is safe. Ask whoever looks after "
        "the server to free some space; then try again."
    ),
    60,
)
READ_ONLY = Outage(
    lazy("The disk is read-only"),
    lazy(
        "The server's disk, or its database, cannot be written. Your changes were not saved; "
        "everything saved earlier is safe. Tell whoever looks after the server."
    ),
    60,
)
FAILING = Outage(
    lazy("The disk is failing"),
    lazy(
        "The server could not read or write its records. Your changes may not have been saved. "
        "Tell whoever looks after the server to run 'shopflow check' and to have a backup ready."
    ),
    60,
)
AWAY = Outage(
    lazy("Database unavailable"),
    lazy(
        "The database is restarting, or the server cannot reach it. Everything saved earlier is "
        "safe. Your changes were probably not saved: check the record before you send them again."
    ),
    10,
)

STORAGE = Outage(
    lazy("File storage unavailable"),
    lazy(
        "The storage of photos and documents cannot be reached. Your changes were not saved; "
        "everything saved earlier is safe, and other pages still work. If this lasts, tell "
        "whoever looks after the server."
    ),
    30,
)

_SQLITE = {
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_IOERR: FAILING,
    sqlite3.SQLITE_CORRUPT: FAILING,
    sqlite3.SQLITE_NOTADB: FAILING,
    sqlite3.SQLITE_CANTOPEN: AWAY,
}
"""Primary result codes: https://www.sqlite.org/rescode.html"""

_POSTGRESQL = {
    "40001": BUSY,
    "40P01": BUSY,
    "53300": BUSY,
    "55P03": BUSY,
    "57014": BUSY,
    "53100": FULL,
    "25006": READ_ONLY,
    "58030": FAILING,
    "57P01": AWAY,
    "57P02": AWAY,
    "57P03": AWAY,
}
"""SQLSTATEs: https://www.postgresql.org/docs/current/errcodes-appendix.html"""

_DISK = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EROFS: READ_ONLY,
    errno.EIO: FAILING,
}


def outage(error: BaseException | None) -> Outage | None:
    """Outage that an error stands for; None for an error of another cause."""
    if isinstance(error, PoolTimeoutError):
        return BUSY
    if isinstance(error, StorageError):
        return outage(error.__cause__) or STORAGE
    if isinstance(error, OSError):
        return _DISK.get(error.errno or 0)
    if not isinstance(error, DBAPIError):
        return None
    if isinstance(error.orig, sqlite3.Error):
        # The low byte is the kind; the rest says more closely where.
        return _SQLITE.get(getattr(error.orig, "sqlite_errorcode", 0) & 0xFF)
    state = getattr(error.orig, "sqlstate", None)
    if state is None or state.startswith("08"):
        # The connection broke before the server could say anything.
        return AWAY if error.connection_invalidated or state or _refused(error) else None
    return _POSTGRESQL.get(state)


def _refused(error: DBAPIError) -> bool:
    """True where PostgreSQL's driver could not connect at all."""
    return type(error.orig).__name__ in ("OperationalError", "ConnectionTimeout")
