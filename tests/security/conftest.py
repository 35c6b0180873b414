"""Fixtures of the security tests: the web tests' own, and a shop with one of everything."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory
from shopflow.files import FileStore
from shopflow.models import Job
from tests.once import SharedFolder
from tests.optional import present
from tests.security.one_of_everything import OneOfEverything, create_one_of_everything
from tests.web import conftest as web

web_app, set_up_file = web.web_app, web.set_up_file
tests_engine, engine, empty_client = web.tests_engine, web.engine, web.empty_client
new_client, stranger = web.new_client, web.stranger
signed_in, client, shop = web.signed_in, web.client, web.shop

DATABASE, FILES, NAMES = "shop.db", "files", "names.json"
ANOTHER = "Ilse Brandt"


@pytest.fixture(scope="session")
def everything_folder(set_up_file: Path, shared_folder: SharedFolder) -> Path:
    """A shop with one of everything, and one of everything of another customer: the database, the
    files, and the names of what is in it."""

    def make(folder: Path) -> None:
        folder.mkdir()
        shutil.copyfile(set_up_file, folder / DATABASE)
        engine = open_engine(f"sqlite:///{folder / DATABASE}")
        store = FileStore(folder / FILES)
        with session_factory(engine).begin() as db:
            both = [
                create_one_of_everything(db, store),
                create_one_of_everything(db, store, customer=ANOTHER),
            ]
            names = [(one.job.id, one.link, one.places) for one in both]
        engine.dispose()
        (folder / NAMES).write_text(json.dumps(names))

    return shared_folder.once("everything", make)


@pytest.fixture
def database_url(web_app: Flask, set_up_file: Path, request: pytest.FixtureRequest) -> str:
    """The app's own database: with one of everything in it where the test asks for that."""
    if not {"everything", "everything_of_another"} & set(request.fixturenames):
        return web.put_under(web_app, set_up_file)
    folder: Path = request.getfixturevalue("everything_folder")
    shutil.copytree(folder / FILES, web_app.config["SHOPFLOW"].files, dirs_exist_ok=True)
    return web.put_under(web_app, folder / DATABASE)


@pytest.fixture
def store(web_app: Flask) -> FileStore:
    """The app's folder of files."""
    return FileStore(web_app.config["SHOPFLOW"].files)


def _read(db: Session, folder: Path, number: int) -> OneOfEverything:
    job_id, link, places = json.loads((folder / NAMES).read_text())[number]
    return OneOfEverything(present(db.get(Job, job_id)), link, places)


@pytest.fixture
def everything(db: Session, everything_folder: Path) -> OneOfEverything:
    """One of everything, on file."""
    return _read(db, everything_folder, 0)


@pytest.fixture
def everything_of_another(db: Session, everything_folder: Path) -> OneOfEverything:
    """One of everything of another customer."""
    return _read(db, everything_folder, 1)
