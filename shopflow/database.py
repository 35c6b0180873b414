"""Opening the database: SQLite or PostgreSQL by URL, and bringing its schema up to date."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import cache
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Dialect, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError, DBAPIError, ProgrammingError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.pool import ConnectionPoolEntry

from shopflow.errors import ShopflowError
from shopflow.resources import MIGRATIONS
from shopflow.tamper_evidence.logged_session import LoggedSession
from shopflow.texts import gettext

READ_ONLY = {"shopflow_read_only": True}
"""Execution options of a connection that will only read, and so need not wait for writers."""


PATIENCE = 5
"""Seconds a writer waits for another one, on either database, before it is told to try again."""

CONNECTIONS = 10
"""Kept open: a request may write apart from what it reads, and so take two."""

MIGRATING = 7_360_146
"""PostgreSQL's advisory lock of a migration; any number that no other program takes."""

FORBIDDEN = "42501"
"""PostgreSQL's SQLSTATE of what an account has no right to."""


def open_engine(url: str) -> Engine:
    """An engine for a SQLite or PostgreSQL URL.

    Raises ShopflowError where the URL is of neither kind, or its driver is missing or too old.
    """
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise ShopflowError(gettext("'{url}' is not a database URL", url=url)) from None
    backend = parsed.get_backend_name()
    if backend == "sqlite":
        _refuse_without_trigrams()
        # What a statement was given may be a secret, or a customer's: it stays out of the log.
        engine = create_engine(parsed, hide_parameters=True, pool_size=CONNECTIONS)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    if backend == "postgresql":
        # Plain postgresql:// means the driver this package installs.
        if parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        try:
            engine = create_engine(
                parsed, pool_pre_ping=True, hide_parameters=True, pool_size=CONNECTIONS
            )
        except ModuleNotFoundError:
            raise ShopflowError(
                gettext("PostgreSQL needs its driver: install 'shopflow[pg]'")
            ) from None
        event.listen(engine, "do_connect", _wait_no_longer)
        event.listen(engine, "connect", _prepare_postgresql)
        return engine
    raise ShopflowError(
        gettext("'{backend}' is not supported: use a sqlite or postgresql URL", backend=backend)
    )


def _refuse_without_trigrams() -> None:
    """Raise ShopflowError where this Python's SQLite cannot keep the index look-ups rest on."""
    with closing(sqlite3.connect(":memory:")) as scratch:
        try:
            scratch.execute("CREATE VIRTUAL TABLE any USING fts5 (words, tokenize='trigram')")
        except sqlite3.DatabaseError as error:
            raise ShopflowError(
                gettext(
                    "this Python's SQLite ({sqlite_version}) has no index of trigrams ({error}): "
                    "shopflow needs SQLite 3.34 or later with FTS5, or PostgreSQL",
                    sqlite_version=sqlite3.sqlite_version,
                    error=error,
                )
            ) from None


def session_factory(engine: Engine) -> sessionmaker[Session]:
    """Sessions on an engine; objects stay readable after a commit."""
    return sessionmaker(engine, class_=LoggedSession, expire_on_commit=False)


def upgrade(engine: Engine, revision: str = "head") -> None:
    """Bring the schema up to a revision; where it is there already, nothing is waited for.

    Raises ShopflowError where the database does not open, or a later version has been at it.
    """
    if revision != "head" or not _is_newest(engine):
        _run(engine, command.upgrade, revision)


def downgrade(engine: Engine, revision: str) -> None:
    """Take the schema back to a revision."""
    _run(engine, command.downgrade, revision)


def revision_of(connection: Connection) -> str:
    """The schema's revision; empty where there is no schema."""
    return MigrationContext.configure(connection).get_current_revision() or ""


@cache
def newest_revision() -> str:
    """The schema's revision that this version works with; every migration is read to tell it."""
    return ScriptDirectory.from_config(alembic_config()).get_current_head() or ""


def is_later(revision: str) -> bool:
    """True where a revision is unknown to this version, so that a later one must have created
    it."""
    scripts = ScriptDirectory.from_config(alembic_config()).walk_revisions()
    return bool(revision) and revision not in {script.revision for script in scripts}


def later_words(revision: str) -> str:
    """Message for a database of a later version, with what to do."""
    return (
        f"a later version of shopflow made this database: its schema is revision {revision}, and "
        f"this version knows up to {newest_revision()}. Install that version or a later one, or "
        "restore a backup made before the upgrade"
    )


def alembic_config(connection: Connection | None = None) -> Config:
    """Alembic's settings, for a connection already open."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _is_newest(engine: Engine) -> bool:
    """True where the schema is this version's, read without a lock that writers need."""
    with _connected(engine.execution_options(**READ_ONLY)) as connection:
        return revision_of(connection) == newest_revision()


def _run(engine: Engine, verb: Any, revision: str) -> None:
    with _connected(engine) as connection:
        sqlite = engine.dialect.name == "sqlite"
        if sqlite:
            # Batch migrations rebuild tables; the check comes after, over the whole file.
            _hold_references(connection, False)
        try:
            with connection.begin():
                if not sqlite:
                    _one_at_a_time(connection)
                verb(alembic_config(connection), revision)
                broken = _dangling(connection) if sqlite else []
                if broken:
                    raise ShopflowError(
                        gettext(
                            "the migration left dangling references: {broken}", broken=broken[:5]
                        )
                    )
        except CommandError as error:
            if is_later(revision_of(connection)):
                raise ShopflowError(later_words(revision_of(connection))) from None
            raise ShopflowError(
                gettext("this database cannot be brought up to date: {error}", error=error)
            ) from None
        except ProgrammingError as error:
            if getattr(error.orig, "sqlstate", "") != FORBIDDEN:
                raise
            raise ShopflowError(
                gettext(
                    "this database is to be brought up to date, and the account may not change "
                    "its tables: run 'shopflow backup' as their owner first"
                )
            ) from None
        finally:
            if sqlite:
                _hold_references(connection, True)


def _one_at_a_time(connection: Connection) -> None:
    """Let several processes that start at once migrate one after the other, on PostgreSQL."""
    connection.exec_driver_sql("SET LOCAL lock_timeout = '10min'")
    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({MIGRATING})")


def _hold_references(connection: Connection, enforced: bool) -> None:
    """Turn SQLite's foreign keys on or off; inside a transaction the statement has no effect."""
    driver: Any = connection.connection.driver_connection
    driver.execute(f"PRAGMA foreign_keys={'ON' if enforced else 'OFF'}")


def _dangling(connection: Connection) -> list[Any]:
    return list(connection.exec_driver_sql("PRAGMA foreign_key_check").all())


def _connected(engine: Engine) -> Connection:
    try:
        return engine.connect()
    except DBAPIError as error:
        # The URL as text leaves the password out.
        raise ShopflowError(
            gettext("cannot open the database {url}: {orig}", url=engine.url, orig=error.orig)
        ) from None


def _prepare_sqlite(connection: DBAPIConnection, record: ConnectionPoolEntry) -> None:
    # The driver must not open transactions by itself: see _begin_sqlite.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        "journal_mode=WAL",
        "foreign_keys=ON",
        f"busy_timeout={PATIENCE * 1000}",
        "synchronous=FULL",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _wait_no_longer(
    dialect: Dialect, record: ConnectionPoolEntry, positional: list[Any], named: dict[str, Any]
) -> None:
    # A server that is away, and answers nothing, is not waited for as long as the network would.
    named.setdefault("connect_timeout", PATIENCE)


def _prepare_postgresql(connection: DBAPIConnection, record: ConnectionPoolEntry) -> None:
    cursor = connection.cursor()
    cursor.execute(f"SET lock_timeout = '{PATIENCE}s'")
    cursor.close()
    connection.commit()


def _begin_sqlite(connection: Connection) -> None:
    # Taking the write lock at once lets writers queue; upgrading a read later would fail instead.
    options = connection.get_execution_options()
    connection.exec_driver_sql("BEGIN" if options.get("shopflow_read_only") else "BEGIN IMMEDIATE")
