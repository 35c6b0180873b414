"""Fixtures of the services' tests: one standing database of each kind, every test rolled back.

A database of its own for each test would cost more than the tests; those that need what has been
committed to be seen by another connection ask for `database_url`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow.database import open_engine
from shopflow.services.actor import Actor
from tests import factories
from tests.postgres import Server


@pytest.fixture(scope="session")
def standing_sqlite(
    migrated_file: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Engine]:
    """A migrated SQLite database for the whole run."""
    path = tmp_path_factory.mktemp("standing") / "shopflow.db"
    shutil.copyfile(migrated_file, path)
    engine = open_engine(f"sqlite:///{path}")
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def standing_postgresql(postgres: Server) -> Iterator[Engine]:
    """A migrated PostgreSQL database for the whole run."""
    with postgres.database() as url:
        engine = open_engine(url)
        yield engine
        engine.dispose()


@contextmanager
def rolled_back(engine: Engine) -> Iterator[Session]:
    """A session whose commits are savepoints in a transaction that is never committed."""
    with engine.connect() as connection:
        transaction = connection.begin()
        with Session(
            connection, join_transaction_mode="create_savepoint", expire_on_commit=False
        ) as session:
            yield session
        transaction.rollback()


@pytest.fixture(params=["sqlite", "postgresql"])
def db(request: pytest.FixtureRequest) -> Iterator[Session]:
    """A session on an empty database; a test that asks for it runs on both kinds."""
    with rolled_back(request.getfixturevalue(f"standing_{request.param}")) as session:
        yield session


@pytest.fixture
def sqlite_db(standing_sqlite: Engine) -> Iterator[Session]:
    """A session on SQLite alone, for what is refused before any database is asked."""
    with rolled_back(standing_sqlite) as session:
        yield session


@pytest.fixture
def machinist(db: Session) -> Actor:
    """Someone at the machines, acting at a fixed moment."""
    return factories.someone(db)
