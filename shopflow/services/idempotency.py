"""Keys of forms that were saved: the unique constraint decides which of two equal posts counts."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import delete, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from shopflow.models import IdempotencyKey

KEPT = timedelta(days=30)
"""Time for which a repeat is recognised; a form may stay open in a tab over a holiday."""


def find(db: Session, person_id: int, key_sha256: str) -> IdempotencyKey | None:
    """The record of a form this person has sent with this key; None for a first time."""
    return db.scalar(
        select(IdempotencyKey).where(
            IdempotencyKey.person_id == person_id, IdempotencyKey.key_sha256 == key_sha256
        )
    )


def record(
    db: Session, person_id: int, key_sha256: str, content_sha256: str, address: str, at: datetime
) -> bool:
    """Record a form as saved, in the transaction that saves it; False where it was saved already.

    On PostgreSQL this waits for another transaction that is about to record the same key.
    """
    # All locks are taken before the wait for the key, so that two posts cannot deadlock.
    db.flush()
    dialect = postgresql if db.get_bind().dialect.name == "postgresql" else sqlite
    statement = (
        dialect.insert(IdempotencyKey)
        .values(
            person_id=person_id,
            key_sha256=key_sha256,
            content_sha256=content_sha256,
            address=address,
            at=at,
        )
        .on_conflict_do_nothing(index_elements=["person_id", "key_sha256"])
        .returning(IdempotencyKey.id)
    )
    return db.scalar(statement) is not None


def prune(db: Session, now: datetime) -> None:
    """Delete keys too old to be repeated."""
    db.execute(delete(IdempotencyKey).where(IdempotencyKey.at <= now - KEPT))
