"""Attempts to sign in, counted so that guessing is slow whichever process it meets.

A login is slowed down at the address that fails at it, so that anyone who knows a login cannot shut
its owner out from elsewhere; only a flood from many addresses makes the login itself wait.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, delete, func, select
from sqlalchemy.orm import Session

from shopflow.models import SignInAttempt

WINDOW = timedelta(minutes=15)
TRIES = 8
"""Failures at one login from one address within the window, since it was last entered."""

TRIES_OF_ADDRESS = 40
"""Failures from one address at whatever login: one password tried on many."""

TRIES_OF_LOGIN = 100
"""Failures at one login from any address, since it was last entered."""

KEPT = timedelta(days=90)
"""Time for which attempts stay on record."""


def too_many(db: Session, login: str, address: str, at: datetime) -> bool:
    """True where an attempt at this login from this address has to wait."""
    entered = select(func.max(SignInAttempt.at)).where(
        SignInAttempt.login == login, SignInAttempt.succeeded
    )
    since = max(at - WINDOW, db.scalar(entered) or at - WINDOW)
    at_login, from_here = SignInAttempt.login == login, SignInAttempt.address == address[:45]
    return (
        _failures(db, since, at_login, from_here) >= TRIES
        or _failures(db, at - WINDOW, from_here) >= TRIES_OF_ADDRESS
        or _failures(db, since, at_login) >= TRIES_OF_LOGIN
    )


def note(db: Session, login: str, address: str, at: datetime, *, succeeded: bool) -> None:
    """Keep what came of an attempt; those too old to be of use are forgotten."""
    db.execute(delete(SignInAttempt).where(SignInAttempt.at <= at - KEPT))
    db.add(SignInAttempt(login=login, address=address[:45], at=at, succeeded=succeeded))
    db.flush()


def recent(db: Session, login: str, most: int = 20) -> list[SignInAttempt]:
    """The latest attempts at a login, the latest first."""
    query = select(SignInAttempt).where(SignInAttempt.login == login)
    return list(db.scalars(query.order_by(SignInAttempt.at.desc()).limit(most)))


def _failures(db: Session, since: datetime, *conditions: ColumnElement[bool]) -> int:
    query = (
        select(func.count())
        .select_from(SignInAttempt)
        .where(SignInAttempt.at > since, SignInAttempt.succeeded.is_(False), *conditions)
    )
    return db.scalar(query) or 0
