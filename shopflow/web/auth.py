"""Login of users: a signed cookie holds the secret of an open login session, and nothing else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Flask, Response, abort, g, has_request_context, request, session
from flask.sessions import SecureCookieSessionInterface, SessionMixin
from flask_wtf import CSRFProtect

from shopflow.models import LoginSession, User
from shopflow.network import network_of
from shopflow.services.accounts import login_sessions
from shopflow.services.actor import Actor
from shopflow.web.db import db

STAYS_SIGNED_IN = timedelta(hours=14)
"""A long day in the shop, counted from the last page opened; `sign_ins.LASTS` is the most."""

SECRET = "login"
"""The key of the session under which the secret lies."""

csrf = CSRFProtect()


class LastingResponse(Response):
    """Says of a cookie how long it is good, and not until when alone."""

    def set_cookie(self, key: str, *arguments: Any, **options: Any) -> None:
        """As ever; browsers count Max-Age by their own clock, and it goes before Expires (RFC 6265,
        5.3), so that people are signed in though the server's clock is wrong.
        """
        expires = options.get("expires")
        if isinstance(expires, datetime):
            options["max_age"] = expires - datetime.now(UTC)
        super().set_cookie(key, *arguments, **options)


class PageSessions(SecureCookieSessionInterface):
    """Renews the cookie with pages alone.

    An answer to a script or an image may come after that to a later request, and would put back
    the older cookie: without the notice of what was saved, or of a user signed out since.
    """

    def should_set_cookie(self, app: Flask, session: SessionMixin) -> bool:
        """True where the session changed, or a page was opened; scripts ask for no HTML."""
        is_page = "text/html" in request.accept_mimetypes.values()
        return session.modified or (session.permanent and is_page)


def init_app(app: Flask) -> None:
    """Cookies, sign-in and protection against forged posts."""
    app.config.update(
        # A browser takes a cookie of the longer name from this very host over HTTPS alone.
        SESSION_COOKIE_NAME="__Host-shopflow" if app.config["SHOPFLOW"].https else "shopflow",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        # Over plain HTTP in a shop's own network a Secure cookie would never come back.
        SESSION_COOKIE_SECURE=app.config["SHOPFLOW"].https,
        PERMANENT_SESSION_LIFETIME=STAYS_SIGNED_IN,
        # A form left open overnight is still good while its owner is signed in.
        WTF_CSRF_TIME_LIMIT=None,
    )
    app.response_class = LastingResponse
    app.session_interface = PageSessions()
    csrf.init_app(app)


def enter(person: User) -> None:
    """Sign a person in, in a session that shares nothing with the one before."""
    leave()
    session.permanent = True
    _begin(person)


def confirm(person: User) -> None:
    """Go on under a new secret, the password having been given again; open forms stay good."""
    _end_current()
    _begin(person)


def confirmed(within: timedelta) -> bool:
    """True where the password was entered within this time."""
    sign_in = current_sign_in()
    return sign_in is not None and sign_in.since > Actor.now(None).at - within


def leave() -> None:
    """End the sign-in there is, so that a copy of its cookie opens nothing either."""
    _end_current()
    g.sign_in = None
    session.clear()


def network_address() -> str:
    """Address of the client, as it is counted and recorded: of IPv6, its network of 64 bits."""
    return network_of(request.remote_addr or "")


def current_sign_in() -> LoginSession | None:
    """The sign-in this request belongs to, looked up once; none outside of requests."""
    if not has_request_context():
        return None
    if "sign_in" not in g:
        secret = session.get(SECRET)
        g.sign_in = login_sessions.standing(db(), secret, Actor.now(None).at) if secret else None
    sign_in: LoginSession | None = g.sign_in
    return sign_in


def current_person() -> User | None:
    """The person signed in."""
    sign_in = current_sign_in()
    return sign_in.person if sign_in is not None else None


def signed_in() -> User:
    """The person signed in, on a page that is shut to others."""
    return current_person() or abort(401)


def actor() -> Actor:
    """The person signed in, acting now."""
    return Actor.now(current_person())


def _end_current() -> None:
    sign_in = current_sign_in()
    if sign_in is not None:
        login_sessions.end(sign_in, Actor.now(None).at)


def _begin(person: User) -> None:
    now = Actor.now(person).at
    g.sign_in, session[SECRET] = login_sessions.begin(
        db(), person, now, network_address(), request.user_agent.string
    )
