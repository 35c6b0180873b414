"""Tokens for programs: made by the owner for some scopes, known by their SHA-256, revoked at any
time."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select, update
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import ApiToken, Bench, Scope
from shopflow.services import audit_log, fields
from shopflow.services.accounts import login_throttle
from shopflow.services.accounts.users import SignInError
from shopflow.services.actor import Actor
from shopflow.texts import gettext

LASTS = (30, 90, 365)
"""Days a token may be good for."""

USED_ANEW = timedelta(minutes=1)
"""Uses closer together than this are noted once, so that reading need not write every time."""


def _scopes(value: Any) -> str:
    chosen = {value} if isinstance(value, str) else set(value or ())
    if not chosen:
        raise ValueError(gettext("choose at least one"))
    read = fields.one_of(Scope)
    return " ".join(scope for scope in Scope if scope in {read(word) for word in chosen})


SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "days": lambda value: int(fields.among(*map(str, LASTS))(str(value))),
    "scopes": _scopes,
    "bench": fields.count(least=1),
}


def list_all(db: Session) -> list[ApiToken]:
    """Every token, the newest first."""
    return list(db.scalars(select(ApiToken).order_by(ApiToken.id.desc())))


def get(db: Session, token_id: int) -> ApiToken:
    """The token with this key. Raises NotFoundError."""
    token = db.get(ApiToken, token_id)
    if token is None:
        raise NotFoundError(gettext("this token does not exist"))
    return token


def make(db: Session, by: Actor, values: Mapping[str, Any]) -> tuple[ApiToken, str]:
    """A new token, and its secret, which nobody can be told again. Raises ValidationError."""
    clean = fields.require(SPECIFICATION, values, "name", "days", "scopes")
    bench = _bench(db, clean["scopes"], clean.get("bench"))
    secret = f"shopflow_{secrets.token_urlsafe(32)}"
    token = ApiToken(
        name=clean["name"],
        token_sha256=_digest(secret),
        made_at=by.at,
        made_by_id=by.person_id,
        expires_at=by.at + timedelta(days=clean["days"]),
        scopes=clean["scopes"],
        bench=bench,
    )
    db.add(token)
    audit_log.record(
        db,
        by,
        token,
        "made",
        note=gettext(
            "{token}, for {days} days: {scopes}",
            token=token.name,
            days=clean["days"],
            scopes=", ".join(clean["scopes"].split()),
        ),
    )
    return token, secret


def _bench(db: Session, scopes: str, bench_id: int | None) -> Bench | None:
    """The bench that a token is for. Raises ValidationError."""
    if Scope.BENCH not in scopes.split():
        return None
    bench = db.get(Bench, bench_id) if bench_id else None
    if bench is None:
        raise ValidationError([FieldError("bench", gettext("choose the bench that it posts to"))])
    return bench


def revoke(db: Session, by: Actor, token: ApiToken) -> None:
    """Shut a token for good. Raises RuleError where it is shut already."""
    if token.revoked_at is not None:
        raise RuleError(gettext("the token is revoked already"))
    token.revoked_at = by.at
    audit_log.record(db, by, token, "revoked", note=token.name)


def has_to_wait(db: Session, address: str, at: datetime) -> bool:
    """True where too many wrong tokens came from an address, by the rule for logins."""
    return login_throttle.too_many(db, _caller(address), address, at)


def opened_by(db: Session, secret: str, at: datetime) -> ApiToken:
    """The token with this secret. Raises SignInError alike for wrong, expired and revoked ones."""
    query = select(ApiToken).where(ApiToken.token_sha256 == _digest(secret))
    token = db.scalar(query.options(joinedload(ApiToken.bench)))
    if token is None or not token.opens(at):
        raise SignInError(gettext("this token does not work: it is wrong, expired or revoked"))
    return token


def count_wrong(db: Session, address: str, at: datetime) -> None:
    """Note a wrong try."""
    login_throttle.note(db, _caller(address), address, at, succeeded=False)


def is_used_anew(token: ApiToken, at: datetime) -> bool:
    """True where this use is due to be recorded."""
    return token.last_used_at is None or at - token.last_used_at >= USED_ANEW


def note_use(db: Session, token_id: int, at: datetime) -> None:
    """Note when a token was last used."""
    db.execute(
        update(ApiToken)
        .where(ApiToken.id == token_id)
        .values(last_used_at=at)
        .execution_options(synchronize_session=False)
    )


def _caller(address: str) -> str:
    # No login holds a space before it is trimmed, so that none is shut by this.
    return f" token from {address}"[:80]


def _digest(secret: str) -> str:
    # The secret holds 256 random bits: a plain hash tells nothing of it, and needs no salt.
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
