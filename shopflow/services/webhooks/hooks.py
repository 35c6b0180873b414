"""Addresses that are told of events: named, switched and looked at by the owner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, RuleError
from shopflow.mail.sealing import Seal
from shopflow.models import DeliveryState, Webhook, WebhookDelivery
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.webhooks import events
from shopflow.texts import gettext
from shopflow.webhooks import destination, signature

BOTH_SECRETS = timedelta(days=1)
"""Time for which posts are signed with the secret before a new one as well."""

SHOWN = 50

FINISHED = (DeliveryState.DELIVERED, DeliveryState.FAILED, DeliveryState.SKIPPED)


def _events(value: Any) -> str:
    chosen = {value} if isinstance(value, str) else set(value or ())
    if not chosen:
        raise ValueError(gettext("choose at least one"))
    read = fields.among(*events.TYPES)
    return " ".join(name for name in events.TYPES if name in {read(word) for word in chosen})


def specification(allowed: Sequence[destination.Network]) -> fields.Specification:
    """Readers of the fields; which addresses may be named depends on a setting."""

    def address(value: Any) -> str:
        typed = str(fields.text(required=True)(value))
        destination.read(typed, allowed)
        return typed

    return {"url": address, "events": _events}


def list_all(db: Session) -> list[Webhook]:
    """Every address, the newest first."""
    return list(db.scalars(select(Webhook).order_by(Webhook.id.desc())))


def get(db: Session, hook_id: int) -> Webhook:
    """The webhook with this key. Raises NotFoundError."""
    row = db.get(Webhook, hook_id)
    if row is None:
        raise NotFoundError(gettext("this webhook does not exist"))
    return row


def deliveries(db: Session, hook: Webhook) -> list[WebhookDelivery]:
    """The last deliveries, the latest first."""
    row = WebhookDelivery
    query = select(row).where(row.webhook_id == hook.id).order_by(row.id.desc()).limit(SHOWN)
    return list(db.scalars(query))


def make(
    db: Session,
    by: Actor,
    seal: Seal,
    values: Mapping[str, Any],
    allowed: Sequence[destination.Network] = (),
) -> tuple[Webhook, str]:
    """A new webhook, told of what happens from now on, and its secret, which nobody can be told
    again. Raises ValidationError."""
    clean = fields.require(specification(allowed), values, "url", "events")
    secret = signature.new_secret()
    row = Webhook(
        **clean,
        secret_sealed=seal.shut(secret),
        made_at=by.at,
        made_by_id=by.person_id,
        cursor=events.latest(db),
        next_try_at=by.at,
    )
    db.add(row)
    audit_log.record(db, by, row, "made", note=_in_log(row))
    return row, secret


def renew_secret(db: Session, by: Actor, seal: Seal, hook: Webhook) -> str:
    """A new secret; for a day posts are signed with the one before as well."""
    secret = signature.new_secret()
    hook.earlier_secret_sealed = hook.secret_sealed
    hook.earlier_until = by.at + BOTH_SECRETS
    hook.secret_sealed = seal.shut(secret)
    audit_log.record(db, by, hook, "renewed", note=gettext("secret"))
    return secret


def switch_off(db: Session, by: Actor, hook: Webhook) -> None:
    """Post nothing more, nor note what happens. Raises RuleError where it is off already."""
    if not hook.is_on:
        raise RuleError(gettext("the webhook is off already"))
    audit_log.change(db, by, hook, {"is_on": False}, verb="switched off", note=hook.url)


def switch_on(db: Session, by: Actor, hook: Webhook) -> None:
    """Post again: what was queued, then what happens from now on.

    One that stopped by itself goes on where it stopped. Raises RuleError where it is on.
    """
    if hook.is_on:
        raise RuleError(gettext("the webhook is on already"))
    if not hook.stopped_because:
        hook.cursor = events.latest(db)
    hook.failing_since, hook.tries, hook.next_try_at = None, 0, by.at
    values = {"is_on": True, "stopped_because": ""}
    audit_log.change(db, by, hook, values, verb="switched on", note=hook.url)


def send_trial(db: Session, by: Actor, hook: Webhook) -> WebhookDelivery:
    """Queue a message that tells of nothing, posted at once and tried once."""
    row = delivery(hook, events.trial(by.at), by.at, DeliveryState.ASKED_FOR)
    db.add(row)
    db.flush()
    return row


def get_delivery(db: Session, hook: Webhook, delivery_id: int) -> WebhookDelivery:
    """A delivery to this address. Raises NotFoundError."""
    row = db.get(WebhookDelivery, delivery_id)
    if row is None or row.webhook_id != hook.id:
        raise NotFoundError(gettext("this delivery does not exist"))
    return row


def repeat(db: Session, by: Actor, row: WebhookDelivery) -> None:
    """Post a message once more, at once, under the same id. Raises RuleError while it is queued."""
    if row.state not in FINISHED:
        raise RuleError(gettext("the delivery is queued already"))
    row.state = DeliveryState.ASKED_FOR
    audit_log.record(db, by, row.webhook, "delivery repeated", note=row.message_id)


def skip(db: Session, by: Actor, row: WebhookDelivery) -> None:
    """Leave a queued message out, so that those behind it go on. Raises RuleError."""
    if row.state is not DeliveryState.QUEUED:
        raise RuleError(gettext("the delivery is not queued"))
    row.state = DeliveryState.SKIPPED
    row.webhook.next_try_at = by.at
    audit_log.record(db, by, row.webhook, "delivery skipped", note=row.message_id)


def delivery(
    hook: Webhook, message: events.Message, at: Any, state: DeliveryState
) -> WebhookDelivery:
    """A message to an address, not tried yet."""
    return WebhookDelivery(
        webhook_id=hook.id,
        message_id=signature.new_message_id(),
        event=message.event,
        body=message.body,
        queued_at=at,
        state=state,
    )


def _in_log(row: Webhook) -> str:
    return f"{row.url}: {', '.join(row.events.split())}"
