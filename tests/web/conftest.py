"""Fixtures of the web tests: one app, a fresh shop in it for each test, and its people."""

from __future__ import annotations

import dataclasses
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow import create_app
from shopflow.config import DATABASE_FILE, Settings
from shopflow.database import open_engine, session_factory
from shopflow.models import Role, Shop
from shopflow.services.accounts import users
from shopflow.signing import KEY_FILE
from tests import factories
from tests.once import SharedFolder
from tests.web.client import Client, client_of


@pytest.fixture(scope="session")
def web_app(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Flask:
    """The app, made once: each test puts its own database under it."""
    folder = tmp_path_factory.mktemp("shop")
    shutil.copyfile(migrated_file, folder / DATABASE_FILE)
    app = create_app(Settings.for_folder(folder))
    app.testing = True
    app.test_client_class = Client
    return app


@pytest.fixture(scope="session")
def set_up_file(migrated_file: Path, shared_folder: SharedFolder) -> Path:
    """A SQLite file with a shop and one person of each role, to be copied."""

    def set_up(path: Path) -> None:
        shutil.copyfile(migrated_file, path)
        engine = open_engine(f"sqlite:///{path}")
        with session_factory(engine).begin() as db:
            factories.create_shop(db)
            for role in Role:
                factories.create_person(db, role)
        engine.dispose()

    return shared_folder.once("set_up.db", set_up)


def put_under(app: Flask, file: Path) -> str:
    """Give the app a copy of a database, in place of the one it had; its address.

    A signing key that a test made goes too: pages offer to make one only where there is none.
    """
    url = app.config["SHOPFLOW"].database_url
    app.extensions["shopflow.engine"].dispose()
    path = Path(url.removeprefix("sqlite:///"))
    for leftover in ("-wal", "-shm"):
        path.with_name(path.name + leftover).unlink(missing_ok=True)
    path.with_name(KEY_FILE).unlink(missing_ok=True)
    shutil.copyfile(file, path)
    return str(url)


@pytest.fixture
def database_url(web_app: Flask, set_up_file: Path) -> str:
    """The app's own database, with a shop set up in it; `db` is a session on it."""
    return put_under(web_app, set_up_file)


@pytest.fixture(scope="session")
def tests_engine(web_app: Flask) -> Iterator[Engine]:
    """The tests' own engine on the app's database, which keeps what it compiled for all of them."""
    engine = open_engine(web_app.config["SHOPFLOW"].database_url)
    yield engine
    engine.dispose()


@pytest.fixture
def engine(tests_engine: Engine, database_url: str) -> Iterator[Engine]:
    """An engine on the shop of this test, without a connection to the file of the one before."""
    yield tests_engine
    tests_engine.dispose()


@pytest.fixture
def empty_client(web_app: Flask, migrated_file: Path) -> Client:
    """Someone at an app whose shop is not set up."""
    put_under(web_app, migrated_file)
    return client_of(web_app)


@pytest.fixture
def new_client(web_app: Flask, db: Session) -> Callable[[], Client]:
    """A maker of clients of someone not signed in."""

    def release_writes() -> None:
        # SQLite has one writer: the test's own must be done, and what it read forgotten.
        db.commit()
        db.expire_all()

    def make() -> Client:
        client = client_of(web_app)
        client.release_writes = release_writes
        return client

    return make


@pytest.fixture
def stranger(new_client: Callable[[], Client]) -> Client:
    """Someone not signed in."""
    return new_client()


@pytest.fixture
def signed_in(new_client: Callable[[], Client], db: Session) -> Callable[[Role], Client]:
    """A maker of clients signed in as the person of a role."""

    def enter(role: Role) -> Client:
        client = new_client()
        client.sign_in(next(user for user in users.list_all(db) if user.role is role))
        return client

    return enter


@pytest.fixture
def client(signed_in: Callable[[Role], Client]) -> Client:
    """The owner, signed in."""
    return signed_in(Role.OWNER)


@pytest.fixture
def shop(db: Session) -> Shop:
    """The shop."""
    return factories.shop_or_none(db)


@pytest.fixture
def folder(web_app, monkeypatch, tmp_path):
    """A folder for the shop's key, of this test alone."""
    settings = dataclasses.replace(web_app.config["SHOPFLOW"], data=tmp_path)
    monkeypatch.setitem(web_app.config, "SHOPFLOW", settings)
    return tmp_path
