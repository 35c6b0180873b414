"""The app on a shop of the benchmarks, with its owner signed in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from sqlalchemy import Engine, event

from shopflow import create_app
from shopflow.config import Settings
from tests import factories

EMPTIEST = "/look-up"
"""A heading and one field, and nothing read but who asks and whose shop it is."""


class Served:
    """One app and one client of it."""

    def __init__(self, folder: Path, database: str) -> None:
        self.app = create_app(Settings.for_folder(folder, database))
        self.app.config["WTF_CSRF_ENABLED"] = False
        self.client: FlaskClient = self.app.test_client()
        sign_in = {"login": "owner", "password": factories.PASSWORD}
        answer = self.client.post("/sign-in", data=sign_in)
        assert answer.status_code == 302, answer.text

    @property
    def engine(self) -> Engine:
        """The app's database."""
        engine: Engine = self.app.extensions["shopflow.engine"]
        return engine

    def get(self, address: str) -> str:
        """A page's text."""
        answer = self.client.get(address)
        assert answer.status_code == 200, (address, answer.status_code)
        return answer.text

    def queries(self, address: str) -> int:
        """Number of statements a page sends to the database, once its caches are full."""
        self.get(address)
        sent: list[str] = []

        def note(connection: object, cursor: object, statement: str, *rest: object) -> None:
            # PostgreSQL's driver begins a transaction by itself.
            if not statement.startswith("BEGIN"):
                sent.append(statement)

        event.listen(self.engine, "before_cursor_execute", note)
        try:
            self.get(address)
        finally:
            event.remove(self.engine, "before_cursor_execute", note)
        return len(sent)

    def steps(self, address: str) -> int:
        """Number of steps SQLite's machine takes for a page, once its caches are full.

        They reveal a plan that reads a whole table, whatever else the machine does.
        """
        self.get(address)
        taken = 0

        def note() -> None:
            nonlocal taken
            taken += 1

        def watch(connection: Any, *rest: object) -> None:
            connection.set_progress_handler(note, 1)

        def leave(connection: Any, *rest: object) -> None:
            connection.set_progress_handler(None, 1)

        event.listen(self.engine, "checkout", watch)
        event.listen(self.engine, "checkin", leave)
        try:
            self.get(address)
        finally:
            event.remove(self.engine, "checkout", watch)
            event.remove(self.engine, "checkin", leave)
        return taken
