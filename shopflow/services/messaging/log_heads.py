"""The head of the record log, mailed out of the shop each day, where nobody can rewrite it."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.mail.message import new_message_id
from shopflow.models import AnchorKind, MailServer, OutgoingMail, RecordLogAnchor, RecordLogHead
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.messaging import smtp_settings
from shopflow.services.messaging.outbox import in_log
from shopflow.services.shop.settings import get_shop
from shopflow.tamper_evidence import log
from shopflow.texts import gettext

EVERY = timedelta(days=1)

_LAST = (
    select(RecordLogAnchor.at)
    .where(RecordLogAnchor.kind == AnchorKind.MAIL)
    .order_by(RecordLogAnchor.id.desc())
    .limit(1)
)


def is_due(db: Session, now: datetime) -> bool:
    """True where the shop mails its heads, and the last one is a day old."""
    settings = smtp_settings.the_mailbox(db)
    if settings is None or not settings.log_head_to:
        return False
    last = db.scalar(_LAST)
    # From later than now: the clock was set back.
    return last is None or not timedelta(0) <= now - last < EVERY


def queue(db: Session, now: datetime) -> OutgoingMail | None:
    """Queue the message of the day with the head as it is; None where another sender did so."""
    # The later one of two senders waits here, and finds it done.
    db.execute(select(RecordLogHead.size).with_for_update())
    if not is_due(db, now):
        return None
    settings = db.get_one(MailServer, 1)
    head, shop = log.head(db.connection()), get_shop(db)
    row = OutgoingMail(
        message_id=new_message_id(settings.sender),
        to_address=settings.log_head_to,
        subject=gettext("Record log of {shop}", shop=shop.name),
        body=gettext(
            "{moment} UTC: {size} entries, {root}\n\nKeep this message. 'shopflow check' on the "
            "shop's server compares the records with what is mailed here.",
            moment=f"{now:%Y-%m-%d %H:%M}",
            size=head.size,
            root=head.root,
        ),
        next_try_at=now,
        queued_at=now,
    )
    db.add(row)
    db.flush()
    by = Actor(None, now)
    audit_log.record(db, by, row, "queued", note=in_log(row))
    log.anchor(db.connection(), AnchorKind.MAIL, now, head, settings.log_head_to)
    return row
