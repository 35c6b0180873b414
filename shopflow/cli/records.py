"""A shop's records as commands open them, and what they write to a file."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from shopflow.config import database_address, default_data_folder
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.errors import NotFoundError, ShopflowError
from shopflow.lost_records import is_missing, refuse_lost_records
from shopflow.models import Visit
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import language_spoken
from shopflow.texts import gettext


@contextmanager
def records(arguments: argparse.Namespace) -> Iterator[Session]:
    """The shop's records for one command, with texts in its language: committed at the end, rolled
    back where it fails.

    Raises NotFoundError where there are none in the folder.
    """
    with (
        opened(arguments) as engine,
        session_factory(engine).begin() as db,
        language_spoken(db),
    ):
        yield db


@contextmanager
def opened(arguments: argparse.Namespace, *, as_it_is: bool = False) -> Iterator[Engine]:
    """The shop's database, brought up to date unless wanted as it is.

    Raises NotFoundError where there is none.
    """
    data = arguments.data or default_data_folder()
    engine = open_engine(database_address(data, arguments.database_url))
    refuse_lost_records(engine, data)
    if is_missing(engine):
        raise NotFoundError(
            gettext(
                "there is no shop in {parent}; name its folder with --data, or start one "
                "with 'shopflow serve'",
                parent=Path(engine.url.database or "").parent,
            )
        )
    try:
        with faults_told():
            if not as_it_is:
                upgrade(engine)
            yield engine
    finally:
        engine.dispose()


@contextmanager
def faults_told() -> Iterator[None]:
    """Say what a database or disk refused in a line, in place of a traceback."""
    try:
        yield
    except DBAPIError as error:
        raise ShopflowError(gettext("the database refused: {orig}", orig=error.orig)) from None


def stays_of(db: Session, named: str) -> list[Visit]:
    """The heads of a job, or the one that carries the tag named."""
    try:
        return list(jobs.get(db, named).heads)
    except NotFoundError:
        try:
            return [jobs.visit(db, named)]
        except NotFoundError:
            raise NotFoundError(gettext("there is no job or tag {named}", named=named)) from None


def write(path: Path, content: bytes) -> int:
    """Write a file and say so; 0, as a command that is done. Raises ShopflowError."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise ShopflowError(
            gettext("cannot write {path}: {strerror}", path=path, strerror=error.strerror)
        ) from None
    print(gettext("Wrote {path}.", path=path))
    return 0
