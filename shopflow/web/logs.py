"""Log of the server: times in UTC, no secret of a private link, one line a message."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime

from flask import Flask
from flask.logging import default_handler

from shopflow.texts import gettext

_PRIVATE = re.compile(r"(/(?:c|calendar)/)[^/\s'\"?]+")
_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")


class Plain(logging.Formatter):
    """Moment, level, place, message; a traceback follows on lines of its own."""

    def __init__(self) -> None:
        super().__init__(gettext("%(asctime)s %(levelname)s %(name)s: %(message)s"))

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:  # noqa: N802
        """The moment in UTC, after ISO 8601."""
        return datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802
        """Format the message as one line; line breaks in it are escaped."""
        record.message = _CONTROLS.sub(lambda control: repr(control[0])[1:-1], record.message)
        return super().formatMessage(record)

    def format(self, record: logging.LogRecord) -> str:
        """All of it, without what opens a customer's page or a calendar."""
        return _PRIVATE.sub(r"\1…", super().format(record))


def init_app(app: Flask) -> None:
    """Write the app's own log so, and the server's."""
    default_handler.setFormatter(Plain())
    app.logger.setLevel(logging.INFO)
    server = logging.getLogger("waitress")
    if default_handler not in server.handlers:
        server.addHandler(default_handler)
    # A queue is no fault: four people opened pages at once.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
