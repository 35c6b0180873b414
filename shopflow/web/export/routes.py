"""Taking the shop's records out, as CSV and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from flask import Blueprint, Response, current_app, render_template
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from shopflow.services.export import archive, for_import, shop_json
from shopflow.services.export.columns import SECRET
from shopflow.services.export.rows import freeze
from shopflow.services.imports import kinds
from shopflow.web.context import today

blueprint = Blueprint("export", __name__, url_prefix="/export")

Chunks = Callable[[Session, datetime], Iterator[bytes]]


@blueprint.get("")
def index() -> ResponseReturnValue:
    """List what can be exported, and what is not."""
    titles = {code: kinds.get(code).title for code in for_import.FILES}
    return render_template("export/index.html", secret=list(SECRET.values()), for_import=titles)


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
    return _streamed(lambda db, at: for_import.chunks(db, code), "csv", "text/csv", code)


def _streamed(chunks: Chunks, suffix: str, mimetype: str, kind: str = "") -> Response:
    """A download made while it is sent, from the records as they stand at its start."""
    name = f"{'-'.join(filter(None, ('shopflow', kind, f'{today():%Y-%m-%d}')))}.{suffix}"
    open_session = current_app.extensions["shopflow.reading"]

    def stream() -> Iterator[bytes]:
        # A session of its own: the request's ends before the last piece is sent.
        with open_session() as db:
            freeze(db)
            yield from chunks(db, datetime.now(UTC))

    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(stream(), mimetype=mimetype, headers=headers)
