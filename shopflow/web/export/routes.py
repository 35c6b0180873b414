"""Taking the shop's records out, as CSV and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from flask import Blueprint, Response, current_app, render_template
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from shopflow.services.export import archive, shop_json
from shopflow.services.export.columns import SECRET
from shopflow.services.export.rows import freeze
from shopflow.web.context import today

blueprint = Blueprint("export", __name__, url_prefix="/export")

Chunks = Callable[[Session, datetime], Iterator[bytes]]


@blueprint.get("")
def index() -> ResponseReturnValue:
    """List what can be exported, and what is not."""
    return render_template("export/index.html", secret=list(SECRET.values()))


@blueprint.get("/records.zip")
def tables() -> Response:
    """Every table as a CSV, in a zip archive."""
    return _streamed(archive.chunks, "zip", "application/zip")


@blueprint.get("/records.json")
def whole_shop() -> Response:
    """The whole shop as one JSON document."""
    return _streamed(shop_json.chunks, "json", "application/json")


def _streamed(chunks: Chunks, suffix: str, mimetype: str) -> Response:
    """A download made while it is sent, from the records as they stand at its start."""
    name = f"shopflow-{today():%Y-%m-%d}.{suffix}"
    open_session = current_app.extensions["shopflow.reading"]

    def stream() -> Iterator[bytes]:
        # A session of its own: the request's ends before the last piece is sent.
        with open_session() as db:
            freeze(db)
            yield from chunks(db, datetime.now(UTC))

    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return Response(stream(), mimetype=mimetype, headers=headers)
