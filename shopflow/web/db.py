"""The request's database session: opened when first asked for, ended in one place."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask, Response, current_app, g, request
from sqlalchemy import Engine
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import set_committed_value

from shopflow.database import READ_ONLY, session_factory
from shopflow.models.base import Versioned
from shopflow.web.addresses import LARGEST_KEY

READING_METHODS = ("GET", "HEAD", "OPTIONS")

KEEPING_APART = frozenset({"seat_profiles.preview", "sessions.worked_out"})
"""Endpoints that are posted to, but read, and write by `keeping` alone: no other writer waits while
they work figures out."""


def init_app(app: Flask, engine: Engine) -> None:
    """Give the app its database."""
    app.extensions["shopflow.engine"] = engine
    app.extensions["shopflow.writing"] = session_factory(engine)
    # A request that only reads must not queue for the write lock.
    app.extensions["shopflow.reading"] = session_factory(engine.execution_options(**READ_ONLY))
    app.after_request(_finish)
    app.teardown_appcontext(_close)


def db() -> Session:
    """The request's session."""
    if "db" not in g:
        kind = "reading" if only_reads() else "writing"
        g.db = current_app.extensions[f"shopflow.{kind}"]()
    session: Session = g.db
    return session


@contextmanager
def keeping() -> Iterator[Session]:
    """A session whose work is kept, in a request that only reads too: there in a transaction of
    its own, elsewhere with all else the request did."""
    if only_reads():
        with current_app.extensions["shopflow.writing"].begin() as apart:
            yield apart
    else:
        yield db()


@contextmanager
def only_reading() -> Iterator[None]:
    """Let nobody wait to write while the request prepares its own writes.

    What it did before is kept; what it reads stays at hand, and may be old once it writes.
    """
    session = db()
    session.commit()
    session.connection(execution_options=READ_ONLY)
    yield
    session.commit()


@contextmanager
def no_transaction() -> Iterator[None]:
    """Hold no transaction during slow work that needs no database: nobody waits to write.

    What the request did before is committed; what it read stays at hand, and may be old after.
    """
    db().commit()
    yield


def rollback() -> None:
    """Roll back everything this request did to the database."""
    if "db" in g:
        g.db.rollback()


def edited_from(row: Versioned, posted_version: Any) -> None:
    """Let a save fail with StaleDataError where the row moved on since its form was opened."""
    posted = str(posted_version or "")
    if posted.isdecimal():
        # Past what a database counts to, any number is as wrong as the largest.
        version = min(int(posted[:12]), LARGEST_KEY)
        set_committed_value(row, "version", version)


def only_reads() -> bool:
    """Tell a request that only reads, or writes by `keeping` alone."""
    return request.method in READING_METHODS or request.endpoint in KEEPING_APART


def _finish(response: Response) -> Response:
    """Keep what a successful post did; a request that failed, or only reads, leaves nothing."""
    if "db" in g:
        if only_reads() or response.status_code >= 400:
            # As a roll-back, without marking each row to be read anew.
            g.db.close()
        else:
            g.db.commit()
    return response


def _close(error: BaseException | None) -> None:
    session = g.pop("db", None)
    if session is not None:
        session.close()
