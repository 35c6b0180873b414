"""The token every request carries (RFC 6750). Cookies open nothing here."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Response, current_app, request
from sqlalchemy.orm import Session

from shopflow.services.accounts import api_tokens
from shopflow.services.accounts.login_throttle import WINDOW
from shopflow.services.accounts.users import SignInError
from shopflow.texts import gettext
from shopflow.web.api.problems import problem
from shopflow.web.auth import network_address
from shopflow.web.db import db

TOO_MANY = "Too many wrong tokens from this address. Wait a quarter of an hour."


def demand() -> Response | None:
    """Let a request with a good token through; the problem for any other."""
    now, address = datetime.now(UTC), network_address()
    if api_tokens.has_to_wait(db(), address, now):
        answer = problem(429, TOO_MANY)
        answer.headers["Retry-After"] = str(int(WINDOW.total_seconds()))
        return answer
    credentials = request.authorization
    if credentials is None or credentials.type != "bearer" or not credentials.token:
        return _refused(
            gettext("Send a token, as 'Authorization: Bearer TOKEN'."), gettext("Bearer")
        )
    try:
        token = api_tokens.opened_by(db(), credentials.token, now)
    except SignInError as error:
        with _writing() as writing:
            api_tokens.count_wrong(writing, address, now)
            writing.commit()
        return _refused(f"{str(error).capitalize()}.", gettext('Bearer error="invalid_token"'))
    if api_tokens.is_used_anew(token, now):
        with _writing() as writing:
            api_tokens.note_use(writing, token.id, now)
            writing.commit()
    return None


def _refused(detail: str, challenge: str) -> Response:
    answer = problem(401, detail)
    answer.headers["WWW-Authenticate"] = challenge
    return answer


def _writing() -> Session:
    """A session that writes; the request's own only reads."""
    session: Session = current_app.extensions["shopflow.writing"]()
    return session
