"""Who is signed in: a signed cookie holds the person's key, sign-in series and since when."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from flask import Flask, abort, session
from flask_login import LoginManager, UserMixin, current_user, login_user
from flask_wtf import CSRFProtect

from shopflow.models import Person
from shopflow.services.actor import Actor
from shopflow.web.db import db

STAYS_SIGNED_IN = timedelta(hours=14)
"""A long day in the shop, counted from the last page opened."""

AT_MOST = timedelta(days=7)
"""After so long one signs in anew, however busy the tablet was meanwhile."""

csrf = CSRFProtect()


@dataclass(frozen=True, eq=False)
class Account(UserMixin):
    """A person as Flask-Login knows one, and when they signed in."""

    person: Person
    since: datetime = field(default_factory=lambda: datetime.now(UTC))

    def get_id(self) -> str:
        """Key, series and second; a raised series ends every sign-in that carries the old one."""
        return f"{self.person.id}.{self.person.sign_in_series}.{int(self.since.timestamp())}"


def init_app(app: Flask) -> None:
    """Cookies, sign-in and protection against forged posts."""
    app.config.update(
        SESSION_COOKIE_NAME="shopflow",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        # Over plain HTTP in a shop's own network a Secure cookie would never come back.
        SESSION_COOKIE_SECURE=app.config["SHOPFLOW"].https,
        PERMANENT_SESSION_LIFETIME=STAYS_SIGNED_IN,
        # A form left open overnight is still good while its owner is signed in.
        WTF_CSRF_TIME_LIMIT=None,
    )
    csrf.init_app(app)
    manager = LoginManager(app)
    manager.user_loader(_account)


def enter(person: Person) -> None:
    """Sign a person in, in a session that shares nothing with the one before."""
    session.clear()
    session.permanent = True
    login_user(Account(person))


def current_person() -> Person | None:
    """The person signed in."""
    return current_user.person if current_user.is_authenticated else None


def signed_in() -> Person:
    """The person signed in, on a page that is shut to others."""
    return current_person() or abort(401)


def actor() -> Actor:
    """The person signed in, acting now."""
    return Actor.now(current_person())


def _account(identity: str) -> Account | None:
    key, series, second = [*identity.split("."), "", ""][:3]
    if not (key.isdecimal() and second.isdecimal() and len(second) < 12):
        return None
    since = datetime.fromtimestamp(int(second), UTC)
    person = db().get(Person, int(key))
    if person is None or not person.active or series != str(person.sign_in_series):
        return None
    return Account(person, since) if datetime.now(UTC) - since < AT_MOST else None
