"""Limits on the size of a request: small, larger for users signed in, largest for their photos."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

from flask import Flask, abort, g, request, session
from sqlalchemy.exc import SQLAlchemyError

from shopflow.services.accounts import login_sessions
from shopflow.serving.limits import Allowance
from shopflow.web.api import bearer
from shopflow.web.auth import SECRET

STRANGERS = 256 * 1024
"""Bytes that anyone may send: no form that is open to strangers needs more."""

DOCUMENT = 4 * 1024 * 1024
"""A document of the shop that a stranger wants verified."""

USUAL = 8 * 1024 * 1024
PHOTOS = 256 * 1024 * 1024
"""Bytes; they lie on the disk while they come in, so that several photos may at once."""

SCAN = 32 * 1024 * 1024
LARGER = {
    "api.add_photo": SCAN,
    "attachments.add": PHOTOS,
    "jobs.book_in": PHOTOS,
    "scans.index": SCAN,
}
"""Endpoints that a user may send more to than is usual."""

LARGER_OF_STRANGERS = {"verification.file": DOCUMENT}
"""Endpoints that anyone may send more to."""

SLOWEST = 600.0
"""Seconds that a user's upload may take: 256 MB at 3.6 Mbit/s."""

STRANGERS_SLOWEST = 60.0


def init_app(app: Flask) -> None:
    """Refuse what is too large before anything of it is read."""
    app.config.update(MAX_CONTENT_LENGTH=USUAL, MAX_FORM_MEMORY_SIZE=USUAL)

    @app.before_request
    def set_limit() -> None:
        size = request.content_length or 0
        allowed = _most(_is_signed_in(app)) if size > STRANGERS else STRANGERS
        request.max_content_length = allowed
        if size > allowed:
            # A refused request writes nothing, so that it waits for no writer either.
            g.db = app.extensions["shopflow.reading"]()
            abort(413)


def allowance(app: Flask, method: str, path: str, cookie: str, token: str) -> Allowance:
    """Allowance of a request of which the headers alone have arrived."""
    environ = {
        "REQUEST_METHOD": method,
        "SCRIPT_NAME": "",
        "PATH_INFO": path,
        "QUERY_STRING": "",
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "HTTP_COOKIE": cookie,
        "HTTP_AUTHORIZATION": token,
        "wsgi.url_scheme": "http",
        "wsgi.input": BytesIO(),
    }
    with app.request_context(environ):
        signed_in = _is_signed_in(app)
        seconds = SLOWEST if signed_in else STRANGERS_SLOWEST
        return Allowance(_most(signed_in), seconds, stranger=not signed_in)


def _most(signed_in: bool) -> int:
    """Bytes that the request at hand may bring."""
    endpoint = request.endpoint or ""
    if signed_in:
        return LARGER.get(endpoint, USUAL)
    return LARGER_OF_STRANGERS.get(endpoint, STRANGERS)


def _is_signed_in(app: Flask) -> bool:
    """True where the cookie belongs to an open login session, or a program's token opens it.

    No other writer is waited for.
    """
    secret, program = session.get(SECRET), request.headers.get("Authorization", "")
    try:
        if request.blueprint == "api":
            return bearer.is_good(app, program)
        if not secret:
            return False
        with app.extensions["shopflow.reading"]() as reading:
            return login_sessions.standing(reading, secret, datetime.now(UTC)) is not None
    except SQLAlchemyError:
        # Signed by this server: the page itself then says that the database is away.
        return True
