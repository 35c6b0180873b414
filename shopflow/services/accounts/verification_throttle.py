"""Throttle of guesses at codes of documents: some wrong ones from one address, then a pause."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from shopflow.models import WrongCode

MOST_WRONG = 20
WINDOW = timedelta(minutes=10)


def too_many(db: Session, address: str, now: datetime) -> bool:
    """True where this address has to wait."""
    query = (
        select(func.count())
        .select_from(WrongCode)
        .where(WrongCode.address == address[:45], WrongCode.at > now - WINDOW)
    )
    return (db.scalar(query) or 0) >= MOST_WRONG


def count(db: Session, address: str, now: datetime) -> None:
    """Note a wrong try; those too old to matter are forgotten."""
    db.execute(delete(WrongCode).where(WrongCode.at <= now - WINDOW))
    db.add(WrongCode(address=address[:45], at=now))
    db.flush()
