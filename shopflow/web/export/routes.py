"""Taking the shop's records out, as CSV and as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from flask import Blueprint, Response, current_app, render_template, request
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from shopflow.services.export import archive, for_import, log, shop_json
from shopflow.services.export.columns import SECRET
from shopflow.services.export.rows import freeze
from shopflow.services.imports import kinds
from shopflow.services.open_data import publication
from shopflow.services.open_data.schema import SCHEMA
from shopflow.web.auth import actor
from shopflow.web.context import today
from shopflow.web.db import db, keeping
from shopflow.web.export.forms import OpenDataForm
from shopflow.web.history.lines import of_record

blueprint = Blueprint("export", __name__, url_prefix="/export")

Chunks = Callable[[Session, datetime], Iterator[bytes]]


@blueprint.get("")
def index() -> ResponseReturnValue:
    """List what can be exported, and what is not."""
    titles = {code: kinds.get(code).title for code in for_import.FILES}
    return render_template(
        "export/index.html",
        secret=list(SECRET.values()),
        for_import=titles,
        open_data=publication.counted(db()),
        form=OpenDataForm(),
        log=of_record(log.latest(db())),
    )


@blueprint.post("/open-data.json")
def open_data() -> Response:
    """Flow tests of heads whose owners agreed, without names."""
    content = publication.published(db(), with_family=bool(OpenDataForm().with_family.data))
    log.note(db(), actor(), "open-data.json")
    return _attached(content, "open-data.json")


@blueprint.get("/open-data-schema.json")
def open_data_schema() -> Response:
    """The schema of open data."""
    return _attached(SCHEMA, "open-data-schema.json")


def _attached(content: object, name: str) -> Response:
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1)
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(text + "\n", mimetype="application/json", headers=headers)


@blueprint.get("/records.zip")
def tables() -> Response:
    """Every table as a CSV, in a zip archive."""
    return _streamed(archive.chunks, "zip", "application/zip")


@blueprint.get("/records.json")
def whole_shop() -> Response:
    """The whole shop as one JSON document."""
    return _streamed(shop_json.chunks, "json", "application/json")


@blueprint.get("/<code>.csv")
def for_import_file(code: str) -> Response:
    """Records of one kind as the CSV that an import takes."""
    # An unknown kind is told before anything is sent.
    for_import.headings(code)
    return _streamed(lambda read, at: for_import.chunks(read, code), "csv", "text/csv", code)


def _streamed(chunks: Chunks, suffix: str, mimetype: str, kind: str = "") -> Response:
    """A download made while it is sent, from the records as they stand at its start."""
    name = f"{'-'.join(filter(None, ('shopflow', kind, f'{today():%Y-%m-%d}')))}.{suffix}"
    if request.method == "GET":
        with keeping() as writing:
            log.note(writing, actor(), name)
    open_session = current_app.extensions["shopflow.reading"]

    def stream() -> Iterator[bytes]:
        # A session of its own: the request's ends before the last piece is sent.
        with open_session() as reading:
            freeze(reading)
            yield from chunks(reading, datetime.now(UTC))

    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(stream(), mimetype=mimetype, headers=headers)
