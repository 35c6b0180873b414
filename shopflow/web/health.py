"""A page for whatever watches the server."""

from __future__ import annotations

from typing import Protocol

from flask import Blueprint, Flask, Response, current_app
from sqlalchemy import text

from shopflow.web.db import db

SENDER = "shopflow.sender"
"""Names, among the app's extensions, a sign of life of what sends mail; absent where nothing does.
"""

STOPPED = "The mail sender has stopped: restart shopflow. Messages wait in the outbox.\n"
PLAIN = "text/plain; charset=utf-8"

blueprint = Blueprint("health", __name__)


class SignOfLife(Protocol):
    """A sign of another thread or process."""

    def is_alive(self) -> bool:
        """True where it is at work."""


def init_app(app: Flask) -> None:
    """Add the page."""
    app.register_blueprint(blueprint)


@blueprint.get("/health")
def health() -> Response:
    """Say "ok" where the database answers and the mail sender runs; else status 503, in words."""
    db().execute(text("SELECT 1"))
    sender: SignOfLife | None = current_app.extensions.get(SENDER)
    if sender is not None and not sender.is_alive():
        return Response(STOPPED, 503, content_type=PLAIN)
    return Response("ok\n", content_type=PLAIN)
