"""A page for whatever watches the server."""

from __future__ import annotations

from threading import Thread

from flask import Blueprint, Flask, Response, current_app
from sqlalchemy import text

from shopflow.web.db import db

SENDER = "shopflow.sender"
"""Names, among the app's extensions, the thread that sends mail; absent where none was started."""

STOPPED = "The mail sender has stopped: restart shopflow. Messages wait in the outbox.\n"
PLAIN = "text/plain; charset=utf-8"

blueprint = Blueprint("health", __name__)


def init_app(app: Flask) -> None:
    """Add the page."""
    app.register_blueprint(blueprint)


@blueprint.get("/health")
def health() -> Response:
    """Say "ok" where the database answers and the mail sender runs; else status 503, in words."""
    db().execute(text("SELECT 1"))
    sender: Thread | None = current_app.extensions.get(SENDER)
    if sender is not None and not sender.is_alive():
        return Response(STOPPED, 503, content_type=PLAIN)
    return Response("ok\n", content_type=PLAIN)
