"""Fixtures of the security tests: the web tests' own, and a shop with one of everything."""

from __future__ import annotations

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.files import FileStore
from tests.security.one_of_everything import OneOfEverything, create_one_of_everything
from tests.web import conftest as web

web_app, set_up_file, database_url = web.web_app, web.set_up_file, web.database_url
tests_engine, engine, empty_client = web.tests_engine, web.engine, web.empty_client
new_client, stranger = web.new_client, web.stranger
signed_in, client, shop = web.signed_in, web.client, web.shop


@pytest.fixture
def store(web_app: Flask) -> FileStore:
    """The app's folder of files."""
    return FileStore(web_app.config["SHOPFLOW"].files)


@pytest.fixture
def everything(db: Session, store: FileStore) -> OneOfEverything:
    """One of everything, on file."""
    made = create_one_of_everything(db, store)
    db.commit()
    return made


@pytest.fixture
def everything_of_another(
    db: Session, store: FileStore, everything: OneOfEverything
) -> OneOfEverything:
    """One of everything of another customer."""
    made = create_one_of_everything(db, store, customer="Ilse Brandt")
    db.commit()
    return made
