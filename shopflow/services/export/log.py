"""The log of exports: who took which records out, and when."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.models import Event, Shop
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.shop.settings import shop_or_none

EXPORTED = "exported"
SHOWN = 10
"""Exports that are listed."""


def note(db: Session, by: Actor, name: str) -> None:
    """Log that a file of records is handed out; nothing before the shop is set up."""
    shop = shop_or_none(db)
    if shop is not None:
        audit_log.record(db, by, shop, EXPORTED, note=name)


def latest(db: Session) -> list[Event]:
    """The last exports, the latest first."""
    query = (
        select(Event)
        .where(Event.subject == Shop.__tablename__, Event.subject_id == 1, Event.verb == EXPORTED)
        .order_by(Event.id.desc())
        .limit(SHOWN)
        .options(selectinload(Event.person))
    )
    return list(db.scalars(query))
