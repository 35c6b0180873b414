"""Every error a person can meet, in words that say what to do next."""

from __future__ import annotations

from flask import Flask, Response, current_app, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import HTTPException, InternalServerError

from shopflow.errors import ConflictError, NotFoundError, RuleError, ValidationError
from shopflow.outages import Outage, outage
from shopflow.texts import gettext, lazy
from shopflow.web.api import problems
from shopflow.web.db import READING_METHODS, rollback

WORDS = {
    400: (lazy("The request could not be read"), lazy("Go back, reload the page and try again.")),
    403: (
        lazy("No permission"),
        lazy("Your account may not open this page. Ask the owner for permission."),
    ),
    404: (lazy("Page not found"), lazy("Check the address, or search for the record.")),
    405: (
        lazy("Wrong kind of request"),
        lazy(
            "This address does not accept that kind of request. Go back and use the page instead."
        ),
    ),
    413: (
        lazy("Upload too large"),
        lazy(
            "You can send up to 8 MB at once, 256 MB with photos, and much less before you sign "
            "in. Nothing was saved. Sign in if you have not, or go back, where what you typed is "
            "still filled in, and send less at a time."
        ),
    ),
}
CONFLICT = (
    lazy("Someone else saved first"),
    lazy(
        "Someone saved the same entry, or changed this record, just before you. Your changes were "
        "not saved. Go back to see what you typed, open the record in another tab, and save again."
    ),
)
FORGED = (
    lazy("This page has expired"),
    lazy(
        "You signed out, or signed in again, after you opened it. Nothing was saved. Go back, "
        "copy what you typed if it was long, reload the page and send it again."
    ),
)
PASSWORDS = frozenset({"password", "current", "again"})
"""Names of the fields that hold one."""

BROKEN = (
    lazy("Something went wrong on the server"),
    lazy(
        "Nothing was saved. The server's log has the details. Try again; if it happens again, "
        "tell whoever looks after this server."
    ),
)


def init_app(app: Flask) -> None:
    """Register a handler for each kind of error."""
    app.register_error_handler(ValidationError, _faults)
    app.register_error_handler(NotFoundError, _not_found)
    app.register_error_handler(RuleError, _rule)
    for lost_race in (ConflictError, StaleDataError, IntegrityError):
        app.register_error_handler(lost_race, _conflict)
    for refused in (DBAPIError, PoolTimeoutError, OSError):
        app.register_error_handler(refused, _refused)
    app.register_error_handler(CSRFError, _forged)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(InternalServerError, _broken)


def _page(status: int, title: str, advice: str, *details: str) -> tuple[str | Response, int]:
    rollback()
    if problems.is_asked():
        return problems.problem(status, f"{title}. {advice}"), status
    page = render_template("errors/error.html", heading=title, advice=advice, details=details)
    return page, status


def _http(error: HTTPException) -> ResponseReturnValue:
    if error.code is None or error.code < 400:
        return error.get_response()
    title, advice = WORDS.get(error.code, (error.name, error.description or ""))
    page, status = _page(error.code, title, advice)
    # Allow, Retry-After and the like stay.
    headers = [item for item in error.get_headers() if item[0].lower() != "content-type"]
    return page, status, headers


def _faults(error: ValidationError) -> ResponseReturnValue:
    return _page(
        422, gettext("Not saved"), gettext("Go back and correct this:"), *map(str, error.faults)
    )


def _not_found(error: NotFoundError) -> ResponseReturnValue:
    return _page(
        404,
        WORDS[404][0],
        gettext("{sentence} Check the address, or search for it.", sentence=_sentence(error)),
    )


def _rule(error: RuleError) -> ResponseReturnValue:
    return _page(
        409,
        gettext("Not possible now"),
        gettext("{sentence} Nothing was saved.", sentence=_sentence(error)),
    )


def _conflict(error: Exception) -> ResponseReturnValue:
    current_app.logger.warning("the database refused to save", exc_info=error)
    return _page(409, *CONFLICT)


def _forged(error: CSRFError) -> ResponseReturnValue:
    current_app.logger.warning("refused a forged or expired post to %s", request.endpoint)
    return _page(400, *FORGED)


def _refused(error: Exception) -> ResponseReturnValue:
    cause = outage(error)
    if cause is None:
        raise error
    # A line says it all; many may come at once.
    refusal = getattr(error, "orig", error)
    current_app.logger.error("refused by the database or the disk: %s", refusal)
    return _unavailable(cause)


def _unavailable(cause: Outage) -> ResponseReturnValue:
    """Answer with the outage and the text that was typed, without a query of the database."""
    if problems.is_asked():
        answer = problems.problem(503, f"{cause.title}. {cause.advice}")
        return answer, 503, {"Retry-After": str(cause.wait)}
    page = current_app.jinja_env.get_template("errors/unavailable.html").render(
        outage=cause,
        again=way_again(),
        address=request.full_path.rstrip("?"),
        typed=list(request.form.items(multi=True)),
    )
    return page, 503, {"Retry-After": str(cause.wait)}


def way_again() -> str:
    """Way to repeat a request: by a form kept on the page, by going back, or by a link."""
    if request.method in READING_METHODS:
        return "link"
    # Neither passwords nor files may or can ride in a page.
    secret = not request.form.keys().isdisjoint(PASSWORDS)
    return "back" if secret or any(request.files.values()) else "form"


def _broken(error: InternalServerError) -> ResponseReturnValue:
    cause = outage(error.original_exception)
    if cause is not None:
        # It came while what was done was being committed.
        return _unavailable(cause)
    # The database may be what broke. This page asks it nothing, so it is rendered without what
    # other pages know.
    if problems.is_asked():
        return problems.problem(500, f"{BROKEN[0]}. {BROKEN[1]}")
    page = current_app.jinja_env.get_template("errors/broken.html")
    return page.render(heading=BROKEN[0], advice=BROKEN[1]), 500


def _sentence(error: Exception) -> str:
    words = str(error)
    return f"{words[:1].upper()}{words[1:]}."
