"""Requests of programs that were carried out: the unique constraint decides between two alike."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import delete, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from shopflow.models import ApiRequest

KEPT = timedelta(days=30)
"""Time for which a repeat is recognized: longer than a bench is ever without its network."""


def find(db: Session, token_id: int, key_sha256: str) -> ApiRequest | None:
    """The request that a token sent with this key; None for a first time."""
    return db.scalar(
        select(ApiRequest).where(
            ApiRequest.token_id == token_id, ApiRequest.key_sha256 == key_sha256
        )
    )


def record(db: Session, request: ApiRequest) -> bool:
    """Record a request in the transaction that carries it out; False where it was done already.

    On PostgreSQL this waits for another transaction that is about to record the same key.
    """
    db.flush()
    db.execute(delete(ApiRequest).where(ApiRequest.at <= request.at - KEPT))
    dialect = postgresql if db.get_bind().dialect.name == "postgresql" else sqlite
    statement = (
        dialect.insert(ApiRequest)
        .values(
            token_id=request.token_id,
            key_sha256=request.key_sha256,
            content_sha256=request.content_sha256,
            status=request.status,
            location=request.location,
            answer=request.answer,
            at=request.at,
        )
        .on_conflict_do_nothing(index_elements=["token_id", "key_sha256"])
        .returning(ApiRequest.id)
    )
    return db.scalar(statement) is not None
