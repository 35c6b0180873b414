"""The token every request carries (RFC 6750). Cookies open nothing here."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from flask import Flask, Response, current_app, g, request
from sqlalchemy.orm import Session

from shopflow.models import ApiToken, Scope, User
from shopflow.services.accounts import api_tokens
from shopflow.services.accounts.login_throttle import WINDOW
from shopflow.services.accounts.users import SignInError
from shopflow.services.actor import Actor
from shopflow.texts import gettext
from shopflow.web.api.problems import problem
from shopflow.web.auth import network_address
from shopflow.web.db import db

TOO_MANY = "Too many wrong tokens from this address. Wait a quarter of an hour."


def demand(scopes: Sequence[Scope]) -> Response | None:
    """Let a request with a good token for one of the scopes through; the problem for any other.

    Read apart from the request's own session: one that writes would keep others waiting.
    """
    now, address = datetime.now(UTC), network_address()
    with _session("reading") as reading:
        if api_tokens.has_to_wait(reading, address, now):
            answer = problem(429, TOO_MANY)
            answer.headers["Retry-After"] = str(int(WINDOW.total_seconds()))
            return answer
        credentials = request.authorization
        if credentials is None or credentials.type != "bearer" or not credentials.token:
            return _refused(
                401, gettext("Send a token, as 'Authorization: Bearer TOKEN'."), gettext("Bearer")
            )
        try:
            row = api_tokens.opened_by(reading, credentials.token, now)
        except SignInError as error:
            words = f"{str(error).capitalize()}."
            row = None
    if row is None:
        with _session("writing") as writing:
            api_tokens.count_wrong(writing, address, now)
            writing.commit()
        return _refused(401, words, gettext('Bearer error="invalid_token"'))
    if not row.allows(*scopes):
        wanted = " ".join(scopes)
        return _refused(
            403,
            gettext("This token is not for that. It needs the scope {scope}.", scope=wanted),
            f'Bearer error="insufficient_scope", scope="{wanted}"',
        )
    if api_tokens.is_used_anew(row, now):
        with _session("writing") as writing:
            api_tokens.note_use(writing, row.id, now)
            writing.commit()
    g.api_token = row
    return None


def token() -> ApiToken:
    """The token that the request at hand came with."""
    row: ApiToken = g.api_token
    return row


def sees_money() -> bool:
    """True where the token may read money."""
    return token().allows(Scope.MONEY)


def program() -> Actor:
    """The program at the other end, acting now for whoever made its token."""
    made_by = token().made_by_id
    person = db().get(User, made_by) if made_by else None
    return Actor(person, datetime.now(UTC), token().name)


def is_good(app: Flask, header: str) -> bool:
    """True where an Authorization header holds a token that opens something."""
    kind, _, secret = header.partition(" ")
    if kind.lower() != "bearer" or not secret.strip():
        return False
    with app.extensions["shopflow.reading"]() as reading:
        try:
            api_tokens.opened_by(reading, secret.strip(), datetime.now(UTC))
        except SignInError:
            return False
    return True


def _refused(status: int, detail: str, challenge: str) -> Response:
    answer = problem(status, detail)
    answer.headers["WWW-Authenticate"] = challenge
    return answer


def _session(kind: str) -> Session:
    """A session apart from the request's own."""
    session: Session = current_app.extensions[f"shopflow.{kind}"]()
    return session
