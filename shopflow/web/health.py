"""A page for whatever watches the server."""

from __future__ import annotations

from flask import Blueprint, Flask, Response
from sqlalchemy import text

from shopflow.web.db import db

blueprint = Blueprint("health", __name__)


def init_app(app: Flask) -> None:
    """Add the page."""
    app.register_blueprint(blueprint)


@blueprint.get("/health")
def health() -> Response:
    """Say "ok" where the database answers; an error page with status 503 where it does not."""
    db().execute(text("SELECT 1"))
    return Response("ok\n", content_type="text/plain; charset=utf-8")
