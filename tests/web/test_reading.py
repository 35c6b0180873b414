"""Pages ask the database as much of a large record as of a small one; addresses of many rows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from flask import Flask, url_for
from sqlalchemy import Engine, event

from shopflow.web.addresses import addresses
from tests.factories import create_job, create_operation


@contextmanager
def statements(engine: Engine) -> Iterator[list[str]]:
    """Record the statements sent to the database."""
    seen: list[str] = []

    def note(connection, cursor, statement, *rest):
        seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    yield seen
    event.remove(engine, "before_cursor_execute", note)


@pytest.mark.parametrize("page", ["/jobs/{0.number}", "/heads/{0.number}-A"])
def test_the_queries_of_a_page_do_not_grow_with_its_steps(web_app, client, db, page):
    job = create_job(db)
    visit = job.heads[0]

    def fill(count: int) -> None:
        for _ in range(count):
            create_operation(db, visit, "seat-cut")

    def statement_count() -> int:
        client.page(page.format(job))
        with statements(web_app.extensions["shopflow.engine"]) as seen:
            client.page(page.format(job))
        return len(seen)

    fill(2)
    few = statement_count()
    fill(6)
    assert statement_count() == few


@pytest.mark.parametrize(
    "word", ["2026-0001-A", "a b", "é/ü", "50%", "a?b#c&d=e", "2147483647", "'\""]
)
def test_the_addresses_of_many_rows_are_those_of_each(web_app: Flask, word: str):
    with web_app.test_request_context(base_url="http://shop.example/under"):
        assert addresses("jobs.visit", "tag")(word) == url_for("jobs.visit", tag=word)
        of_key = url_for("engine_types.engine", engine_type_id=7)
        assert addresses("engine_types.engine", "engine_type_id")(7) == of_key
