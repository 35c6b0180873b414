"""The code that sets a shop up: it is printed where the server was started."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from sqlalchemy import delete, exists, select
from sqlalchemy.orm import Session

from shopflow.models import SetUpCode, Shop, User

LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
"""Without those that are taken for each other."""

LENGTH = 10
"""Characters: 49 bits, and wrong ones are throttled."""


def make(db: Session, now: datetime) -> str:
    """A new code, as "K7QFP-3MPDX"; only its hash is kept. Earlier ones stay good too: several
    servers may start on one database.
    """
    code = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
    db.add(SetUpCode(code_sha256=_hashed(code), made_at=now))
    db.flush()
    return f"{code[: LENGTH // 2]}-{code[LENGTH // 2 :]}"


def is_right(db: Session, typed: str) -> bool:
    """Tell whether what was typed is a code of this database; case and hyphens do not matter."""
    return bool(db.scalar(select(exists().where(SetUpCode.code_sha256 == _hashed(typed)))))


def forget(db: Session) -> None:
    """Delete every code: the shop is set up."""
    db.execute(delete(SetUpCode))


def is_wanted(db: Session) -> bool:
    """Tell whether the shop is still to be set up."""
    return not db.scalar(select(exists(select(Shop.id)) & exists(select(User.id))))


def _hashed(typed: str) -> str:
    plain = "".join(letter for letter in typed.upper() if letter.isalnum())
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()
