"""The queue of each address, worked through by one courier at a time.

A courier claims an address by an atomic UPDATE and holds it under a lease, renewed before each
post. A lease that ran out is anyone's: what was being posted then is posted again.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, delete, or_, select, update
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopflow.mail.sealing import Seal, SealError
from shopflow.models import DeliveryState, RecordLogHead, Webhook, WebhookDelivery
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.webhooks import events, hooks
from shopflow.texts import gettext

LEASE = timedelta(minutes=2)
"""Longer than an address is ever waited for, with its name."""

PAUSES = tuple(
    timedelta(seconds=seconds) for seconds in (5, 30, 120, 600, 1800, 3600, 7200, 14400, 28800)
)
"""Pauses after each try that failed; the last again and again."""

GIVEN_UP_AFTER = timedelta(days=3)
"""Time without one delivery, after which an address is switched off."""

KEPT = timedelta(days=30)
"""Time for which a delivery that is over can be looked at."""

AT_ONCE = 200
"""Entries of the log that are looked at in one go."""

GONE = 410
"""Status of an address that wants no more (RFC 9110 15.5.11; Standard Webhooks)."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """A delivery as it goes out."""

    delivery_id: int
    hook_id: int
    url: str
    message_id: str
    body: str
    secrets: tuple[str, ...] = ()


def due(db: Session, now: datetime) -> list[int]:
    """Keys of the addresses that a courier would have something to do for."""
    rows = db.scalars(select(Webhook).where(_is_free(now)).order_by(Webhook.next_try_at)).all()
    size = db.scalar(select(RecordLogHead.size)) or 0
    return [row.id for row in rows if _has_work(db, row, now, size)]


def claim(db: Session, hook_id: int, now: datetime) -> str | None:
    """A claim on an address, for one courier alone; None where another one has it."""
    mark = secrets.token_hex(16)
    values = {"claim": mark, "lease_until": now + LEASE}
    return mark if _set(db, values, Webhook.id == hook_id, _is_free(now)) else None


def next_parcel(db: Session, hook_id: int, mark: str, now: datetime, seal: Seal) -> Parcel | None:
    """The message to post now, its try noted; None where there is none, or the claim is lost."""
    if not _set(db, {"lease_until": now + LEASE}, _own(hook_id, mark)):
        return None
    hook = db.get_one(Webhook, hook_id, populate_existing=True)
    row = _first(db, hook, DeliveryState.ASKED_FOR)
    if row is None and hook.is_on and _is_ripe(hook, now):
        row = _first(db, hook, DeliveryState.QUEUED)
        if row is None:
            _queue(db, hook, now)
            row = _first(db, hook, DeliveryState.QUEUED)
    if row is None:
        return None
    row.tries, row.tried_at = row.tries + 1, now
    parcel = Parcel(row.id, hook_id, hook.url, row.message_id, row.body)
    try:
        return replace(parcel, secrets=_secrets(hook, now, seal))
    except SealError as error:
        failed(db, parcel, now, str(error))
        return None


def release(db: Session, hook_id: int, mark: str) -> None:
    """Give an address back."""
    _set(db, {"claim": "", "lease_until": None}, _own(hook_id, mark))


def answered(db: Session, parcel: Parcel, now: datetime, status: int) -> bool:
    """Note the answer to a post; True where it was taken."""
    if 200 <= status < 300:
        _delivered(db, parcel, now, status)
        return True
    words = gettext("answered with status {status}", status=status)
    if 300 <= status < 400:
        words = gettext("redirects ({status}), which is not followed", status=status)
    _failed(db, parcel, now, words, status)
    return False


def failed(db: Session, parcel: Parcel, now: datetime, words: str) -> None:
    """Note that no answer came, or that nothing was posted."""
    _failed(db, parcel, now, words, None)


def _secrets(hook: Webhook, now: datetime, seal: Seal) -> tuple[str, ...]:
    own = seal.open(hook.secret_sealed)
    if hook.earlier_until is None or now >= hook.earlier_until:
        return (own,)
    return own, seal.open(hook.earlier_secret_sealed)


def _delivered(db: Session, parcel: Parcel, now: datetime, status: int) -> None:
    row = db.get_one(WebhookDelivery, parcel.delivery_id)
    was_asked_for = row.state is DeliveryState.ASKED_FOR
    row.state, row.status, row.error = DeliveryState.DELIVERED, status, ""
    if not was_asked_for:
        values = {"tries": 0, "failing_since": None, "next_try_at": now}
        _set(db, values, Webhook.id == parcel.hook_id)


def _failed(db: Session, parcel: Parcel, now: datetime, words: str, status: int | None) -> None:
    row = db.get_one(WebhookDelivery, parcel.delivery_id)
    row.status, row.error = status, words[:200]
    if row.state is DeliveryState.ASKED_FOR:
        row.state = DeliveryState.FAILED
        return
    hook = db.get_one(Webhook, parcel.hook_id, populate_existing=True)
    since = hook.failing_since or now
    pause = PAUSES[min(hook.tries, len(PAUSES) - 1)]
    values = {"tries": hook.tries + 1, "failing_since": since, "next_try_at": now + pause}
    _set(db, values, Webhook.id == parcel.hook_id)
    if status == GONE:
        _stop(db, hook, now, gettext("the address wants no more: {error}", error=words))
    elif now - since >= GIVEN_UP_AFTER:
        _stop(db, hook, now, gettext("nothing was delivered for {days} days: {error}",
                                     days=GIVEN_UP_AFTER.days, error=words))  # fmt: skip


def _stop(db: Session, hook: Webhook, now: datetime, words: str) -> None:
    db.refresh(hook)
    if hook.is_on:
        values = {"is_on": False, "stopped_because": words}
        audit_log.change(db, Actor(None, now), hook, values, verb="switched off", note=words)


def _queue(db: Session, hook: Webhook, now: datetime) -> None:
    """Queue what happened since the cursor, move that on, and forget what is long over."""
    fresh = events.since(db, hook.cursor, hook.events.split(), AT_ONCE)
    for message in fresh.items:
        db.add(hooks.delivery(hook, message, now, DeliveryState.QUEUED))
        # One by one, so that their keys are in the order of the events.
        db.flush()
    _set(db, {"cursor": fresh.cursor}, Webhook.id == hook.id)
    row, is_old = WebhookDelivery, WebhookDelivery.queued_at < now - KEPT
    db.execute(delete(row).where(row.webhook_id == hook.id, row.state.in_(hooks.FINISHED), is_old))


def _has_work(db: Session, hook: Webhook, now: datetime, size: int) -> bool:
    if _first(db, hook, DeliveryState.ASKED_FOR) is not None:
        return True
    if not hook.is_on or not _is_ripe(hook, now):
        return False
    return hook.cursor < size or _first(db, hook, DeliveryState.QUEUED) is not None


def _first(db: Session, hook: Webhook, state: DeliveryState) -> WebhookDelivery | None:
    row = WebhookDelivery
    query = select(row).where(row.webhook_id == hook.id, row.state == state).order_by(row.id)
    return db.scalar(query.limit(1))


def _is_ripe(hook: Webhook, now: datetime) -> bool:
    """True where the pause is over, or so far ahead that the clock was set back."""
    return hook.next_try_at <= now or hook.next_try_at > now + 2 * PAUSES[-1]


def _is_free(now: datetime) -> ColumnElement[bool]:
    lease: InstrumentedAttribute[Any] = Webhook.lease_until
    return or_(lease.is_(None), lease < now, lease > now + 2 * LEASE)


def _own(hook_id: int, mark: str) -> ColumnElement[bool]:
    return (Webhook.id == hook_id) & (Webhook.claim == mark)


def _set(db: Session, values: Mapping[str, Any], *where: ColumnElement[bool]) -> bool:
    """Change what couriers note of an address, past its version and the record log."""
    statement = update(Webhook).where(*where).values(**values).returning(Webhook.id)
    statement = statement.execution_options(synchronize_session=False)
    return db.scalars(statement).first() is not None
