"""Open sign-ins: begun, found again by the secret in a cookie, and ended for good."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from sqlalchemy import bindparam, delete, select, update
from sqlalchemy.orm import Session, contains_eager

from shopflow.errors import NotFoundError
from shopflow.models import LoginSession, User
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.texts import gettext

LASTS = timedelta(days=7)
"""At the most, however busy: NIST SP 800-63B allows 30 days where a password is enough."""

KEPT = timedelta(days=90)
"""Time for which a login session stays on record after it began."""

TOKEN_BYTES = 32

_OPEN = select(LoginSession).where(
    LoginSession.ended_at.is_(None), LoginSession.since > bindparam("begun_after")
)
_STANDING = (
    _OPEN.join(LoginSession.person)
    .where(LoginSession.token_sha256 == bindparam("digest"), User.active)
    .options(contains_eager(LoginSession.person))
)
"""Asked at every request, and so put together once."""


def begin(
    db: Session, person: User, at: datetime, address: str, device: str
) -> tuple[LoginSession, str]:
    """Open a sign-in; it, and the secret that stands for it, which is kept nowhere here."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    db.execute(delete(LoginSession).where(LoginSession.since < at - KEPT))
    begun = LoginSession(
        person=person,
        token_sha256=_digest(token),
        since=at,
        address=address[:45],
        device=" ".join(device.replace("\x00", "").split())[:200],
    )
    db.add(begun)
    db.flush()
    return begun, token


def standing(db: Session, token: str, now: datetime) -> LoginSession | None:
    """The open sign-in of this secret; none where it ended, ran out, or the account was shut."""
    return db.scalar(_STANDING, {"begun_after": now - LASTS, "digest": _digest(token)})


def of(db: Session, person: User, now: datetime) -> list[LoginSession]:
    """A person's open sign-ins, the latest first."""
    query = _OPEN.where(LoginSession.person_id == person.id).order_by(LoginSession.since.desc())
    return list(db.scalars(query, {"begun_after": now - LASTS}))


def get(db: Session, person: User, sign_in_id: int) -> LoginSession:
    """A person's own sign-in with this key. Raises NotFoundError."""
    login_session = db.get(LoginSession, sign_in_id)
    if login_session is None or login_session.person_id != person.id:
        raise NotFoundError(gettext("this device is not signed in"))
    return login_session


def end(sign_in: LoginSession, now: datetime) -> None:
    """End a sign-in for good: a copy of its cookie opens nothing either."""
    sign_in.ended_at = sign_in.ended_at or now


def end_all(db: Session, by: Actor, person: User) -> None:
    """End every open sign-in of a person."""
    db.flush()
    db.execute(
        update(LoginSession)
        .where(LoginSession.person_id == person.id, LoginSession.ended_at.is_(None))
        .values(ended_at=by.at)
    )
    audit_log.record(db, by, person, "signed out everywhere")


def _digest(token: str) -> str:
    # The token holds 256 random bits: a plain hash tells nothing of it, and needs no salt.
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
