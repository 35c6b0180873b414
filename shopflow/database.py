"""Opening the database: SQLite or PostgreSQL by URL, and bringing its schema up to date."""

from __future__ import annotations

from typing import Any

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.pool import ConnectionPoolEntry

from shopflow.errors import ShopflowError
from shopflow.resources import MIGRATIONS

READ_ONLY = {"shopflow_read_only": True}
"""Execution options of a connection that will only read, and so need not wait for writers."""


def open_engine(url: str) -> Engine:
    """An engine for a SQLite or PostgreSQL URL.

    Raises ShopflowError where the URL is of neither kind, or its driver is not installed.
    """
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise ShopflowError(f"'{url}' is not a database URL") from None
    backend = parsed.get_backend_name()
    if backend == "sqlite":
        engine = create_engine(parsed)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    if backend == "postgresql":
        # Plain postgresql:// means the driver this package installs.
        if parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        try:
            return create_engine(parsed, pool_pre_ping=True)
        except ModuleNotFoundError:
            raise ShopflowError("PostgreSQL needs its driver: install 'shopflow[pg]'") from None
    raise ShopflowError(f"'{backend}' is not supported: use a sqlite or postgresql URL")


def session_factory(engine: Engine) -> sessionmaker[Session]:
    """Sessions on an engine; objects stay readable after a commit."""
    return sessionmaker(engine, expire_on_commit=False)


def upgrade(engine: Engine, revision: str = "head") -> None:
    """Bring the schema up to a revision; nothing happens where it is there already.

    Raises ShopflowError where the database does not open, or a later version has been at it.
    """
    _run(engine, command.upgrade, revision)


def downgrade(engine: Engine, revision: str) -> None:
    """Take the schema back to a revision."""
    _run(engine, command.downgrade, revision)


def alembic_config(connection: Connection | None = None) -> Config:
    """Alembic's settings, for a connection already open."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _run(engine: Engine, verb: Any, revision: str) -> None:
    with _connected(engine) as connection:
        sqlite = engine.dialect.name == "sqlite"
        if sqlite:
            # Batch migrations rebuild tables; the check comes after, over the whole file.
            _hold_references(connection, False)
        try:
            with connection.begin():
                verb(alembic_config(connection), revision)
                broken = _dangling(connection) if sqlite else []
                if broken:
                    raise ShopflowError(f"the migration left dangling references: {broken[:5]}")
        except CommandError as error:
            raise ShopflowError(f"this database is not of this version: {error}") from None
        finally:
            if sqlite:
                _hold_references(connection, True)


def _hold_references(connection: Connection, held: bool) -> None:
    """Turn SQLite's foreign keys on or off; inside a transaction it would not listen."""
    driver: Any = connection.connection.driver_connection
    driver.execute(f"PRAGMA foreign_keys={'ON' if held else 'OFF'}")


def _dangling(connection: Connection) -> list[Any]:
    return list(connection.exec_driver_sql("PRAGMA foreign_key_check").all())


def _connected(engine: Engine) -> Connection:
    try:
        return engine.connect()
    except DBAPIError as error:
        # The URL as text leaves the password out.
        raise ShopflowError(f"cannot open the database {engine.url}: {error.orig}") from None


def _prepare_sqlite(connection: DBAPIConnection, record: ConnectionPoolEntry) -> None:
    # The driver must not open transactions by itself: see _begin_sqlite.
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        "journal_mode=WAL",
        "foreign_keys=ON",
        "busy_timeout=60000",
        "synchronous=FULL",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: Connection) -> None:
    # Taking the write lock at once lets writers queue; upgrading a read later would fail instead.
    options = connection.get_execution_options()
    connection.exec_driver_sql("BEGIN" if options.get("shopflow_read_only") else "BEGIN IMMEDIATE")
