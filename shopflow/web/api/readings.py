"""Readings that the program at a bench posts into the flow test being taken there."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import url_for
from sqlalchemy import Select, select
from sqlalchemy.orm import joinedload
from werkzeug.exceptions import Forbidden

from shopflow import models
from shopflow.errors import NotFoundError
from shopflow.models import Scope
from shopflow.services.bench import captures, test_drafts
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.api import shapes
from shopflow.web.api.bearer import program, token
from shopflow.web.api.endpoint import text
from shopflow.web.api.interface import interface
from shopflow.web.api.writing import Added
from shopflow.web.db import db

MAY_POST = (Scope.BENCH, Scope.MEASURE)
MAY_READ = (Scope.READ, Scope.MEASURE)


@interface.record("/bench", "The bench of the token, and the flow tests being taken at it",
                  shapes.Bench, scopes=(Scope.BENCH,))  # fmt: skip
def bench() -> shapes.Bench:
    """The token's bench."""
    own = token().bench
    if own is None:
        raise NotFoundError(gettext("this token is of no bench"))
    drafts = test_drafts.all_open(db()).values()
    at_bench = [row for row in drafts if row.typed.get("bench-name", "").strip() == own.name]
    return shapes.Bench(own.id, own.name, [shapes.OpenTest.of(row) for row in at_bench])


@interface.record("/visits/<tag>/test", "The flow test of a head that is being taken",
                  shapes.OpenTest, scopes=MAY_READ)  # fmt: skip
def open_test(tag: str) -> shapes.OpenTest:
    """A head's test that is being taken."""
    row = test_drafts.of_head(db(), jobs.visit(db(), tag))
    if row is None:
        raise NotFoundError(gettext("no flow test of this head is being taken"))
    return shapes.OpenTest.of(row)


@interface.page(
    "/readings", "Readings of instruments with their samples", shapes.Reading,
    text("tag", "Label of their head."), text("test", "Key of their test."), scopes=MAY_READ,
)  # fmt: skip
def list_readings(arguments: dict[str, Any]) -> Select[Any]:
    """Readings of instruments."""
    row = models.Capture
    columns: dict[str, Any] = {"tag": models.Visit.tag, "test": row.entry_key}
    query = select(row).join(row.job_head).options(joinedload(row.job_head))
    return query.where(*(columns[name] == value for name, value in arguments.items()))


@interface.writes(
    "/visits/<tag>/readings", "Post a reading into the flow test being taken", shapes.NewReading,
    shapes.Reading, scopes=MAY_POST,
)  # fmt: skip
def add_reading(tag: str, body: shapes.NewReading) -> Added:
    """Put a reading into the draft, where the token's bench is the draft's."""
    visit = jobs.visit(db(), tag)
    try:
        row = captures.take(db(), program(), visit, token(), body.capture)
    except captures.OtherBenchError as error:
        raise Forbidden(f"{str(error).capitalize()}.") from None
    return Added(partial(shapes.Reading.of, row), url_for("api.list_readings", test=row.entry_key))
