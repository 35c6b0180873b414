"""Fixtures of every test: a fresh database of either kind, and a user who acts in it."""

from __future__ import annotations

import gc
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory, upgrade
from shopflow.services.actor import Actor
from tests import factories, programs
from tests.once import SharedFolder

# A busy machine fails no property: an example may take its time, being made and being tried.
settings.register_profile("shopflow", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shopflow")

programs.refuse_others()

pytest_plugins = ("tests.browser.launch", "tests.demo_shop", "tests.postgres")


def pytest_collection_finish() -> None:
    """Let the garbage collector pass over what is imported by now, and pass less often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture(scope="session")
def shared_folder(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> SharedFolder:
    """The folder shared by this run's worker processes."""
    base = tmp_path_factory.getbasetemp()
    return SharedFolder(base if worker_id == "master" else base.parent)


@pytest.fixture(scope="session")
def migrated_file(shared_folder: SharedFolder) -> Path:
    """A SQLite file with the schema and nothing else, to be copied."""
    return shared_folder.once("migrated.db", _migrate)


def _migrate(path: Path) -> None:
    engine = open_engine(f"sqlite:///{path}")
    upgrade(engine)
    # Closing the last connection folds the write-ahead log into the file.
    engine.dispose()


@pytest.fixture
def sqlite_url(migrated_file: Path, tmp_path: Path) -> str:
    """A fresh migrated SQLite database."""
    path = tmp_path / "shopflow.db"
    shutil.copyfile(migrated_file, path)
    return f"sqlite:///{path}"


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A fresh migrated database; a test that asks for it runs on both kinds."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture
def engine(database_url: str) -> Iterator[Engine]:
    """An engine on the test's database."""
    engine = open_engine(database_url)
    yield engine
    engine.dispose()


@pytest.fixture
def db(engine: Engine) -> Iterator[Session]:
    """A session on the test's database; nothing is committed unless the test does."""
    with session_factory(engine)() as session:
        yield session


@pytest.fixture
def by() -> Actor:
    """Someone who acts, at a fixed moment."""
    return factories.BY
