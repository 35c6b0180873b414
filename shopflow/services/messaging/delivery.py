"""Delivery of the outbox: each message goes to one sender at a time, and out once.

A sender claims a message by an atomic UPDATE and holds it under a lease. It notes in the database
when it begins to hand the content over, and may do so only while the claim is still its own. A
lease that ran out before that note is released and tried again: nothing was sent. One that ran
out after it leaves the message "may have been sent", and only a person may send it again.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, or_, select, update
from sqlalchemy.orm import InstrumentedAttribute, Session

from shopflow.errors import ShopflowError
from shopflow.files import FileStore
from shopflow.mail.message import Attachment, Letter
from shopflow.mail.sealing import Seal
from shopflow.models import MailServer, MailState, OutgoingMail
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.messaging.outbox import LINK_MARK, in_log
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext

LEASE = timedelta(minutes=10)
"""Longer than a mail server is ever waited for."""

PAUSES = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 240, 720, 1440))
"""Pauses after each try that failed for the time being; after the last it is given up."""


class TakenOverError(ShopflowError):
    """The claim on a message is another sender's by now: nothing of it may be sent."""


def letter(
    db: Session, row: OutgoingMail, server: MailServer, store: FileStore, seal: Seal
) -> Letter:
    """A message as it goes out. Raises NotFoundError, SealError where a part of it is lost."""
    attachment = None
    if row.attachment_sha256:
        attachment = Attachment(row.attachment_name, store.get(row.attachment_sha256))
    link = seal.open(row.link_sealed)
    return Letter(
        message_id=row.message_id,
        written_at=row.queued_at,
        to=row.to_address,
        to_name=row.to_name,
        also_to=tuple(row.also_to.split()),
        cc=tuple(row.cc.split()),
        sender=server.sender,
        sender_name=get_shop(db).name,
        subject=row.subject,
        body=row.body.replace(LINK_MARK, link) if link else row.body,
        reply_to=server.reply_to,
        attachment=attachment,
    )


def anything_due(db: Session, now: datetime) -> bool:
    """True where a sender would have something to do."""
    return (
        db.scalar(select(OutgoingMail.id).where(or_(_due(now), _lapsed(now))).limit(1)) is not None
    )


def claim(db: Session, now: datetime) -> OutgoingMail | None:
    """Claim the message that has waited longest, for this sender alone; None where none is due."""
    candidates = (
        select(OutgoingMail.id).where(_due(now)).order_by(OutgoingMail.next_try_at).limit(20)
    )
    for mail_id in db.scalars(candidates).all():
        mark = secrets.token_hex(16)
        claimed = {
            "state": MailState.SENDING,
            "claim": mark,
            "lease_until": now + LEASE,
            "attempts": OutgoingMail.attempts + 1,
        }
        if _set(db, claimed, OutgoingMail.id == mail_id, _due(now)):
            return db.get(OutgoingMail, mail_id, populate_existing=True)
    return None


def begin_handing_over(db: Session, row: OutgoingMail, now: datetime) -> None:
    """Note that a message's content begins to go out, and renew the lease.

    Raises TakenOverError where the claim is not this sender's any more.
    """
    values = {"handed_over_at": now, "lease_until": now + LEASE}
    if not _set(db, values, _own(row), OutgoingMail.state == MailState.SENDING):
        raise TakenOverError(gettext("another sender has this message by now"))


def sent(db: Session, row: OutgoingMail, now: datetime, refusals: Sequence[str] = ()) -> None:
    """Note that the server took a message, and each recipient it refused meanwhile.

    The address of its link is forgotten.
    """
    values = {"sent_at": now, "last_error": "; ".join(refusals), "link_sealed": ""}
    _settle(db, row, now, MailState.SENT, values, "sent")
    for words in refusals:
        audit_log.record(db, Actor(None, now), row, "recipient refused", job=row.job, note=words)


def refused(db: Session, row: OutgoingMail, now: datetime, words: str) -> None:
    """Note that the server refused a message for good."""
    _settle(db, row, now, MailState.REFUSED, {"last_error": words}, "failed")


def set_aside(db: Session, row: OutgoingMail, now: datetime, words: str) -> None:
    """Note that a message cannot be built: nothing of it was sent, and trying again is no help."""
    _settle(db, row, now, MailState.SET_ASIDE, {"last_error": words}, "set aside")


def unsure(db: Session, row: OutgoingMail, now: datetime, words: str) -> None:
    """Note that nobody knows whether the server took a message."""
    _settle(db, row, now, MailState.UNSURE, {"last_error": words}, "may have been sent")


def put_off(db: Session, row: OutgoingMail, now: datetime, words: str) -> None:
    """Note that a message could not be sent this time: try again later, or give it up."""
    if row.attempts > len(PAUSES):
        _settle(db, row, now, MailState.GIVEN_UP, {"last_error": words}, "given up")
        return
    again = now + PAUSES[max(row.attempts, 1) - 1]
    values = {"last_error": words, "next_try_at": again, "handed_over_at": None}
    _settle(db, row, now, MailState.QUEUED, values)


def take_back_lapsed(db: Session, now: datetime) -> None:
    """Look after messages whose sender went away in the middle."""
    lapsed = select(OutgoingMail).where(_lapsed(now)).with_for_update(skip_locked=True)
    for row in db.scalars(lapsed, execution_options={"populate_existing": True}).all():
        if row.handed_over_at is None:
            put_off(db, row, now, gettext("the sender stopped before it handed the message over"))
        else:
            unsure(db, row, now, gettext("the sender stopped while it handed the message over"))


def _due(now: datetime) -> ColumnElement[bool]:
    """Messages to be tried; one never tried yet waits for nothing, whatever the clock says."""
    ripe = (OutgoingMail.next_try_at <= now) | (OutgoingMail.attempts == 0)
    return (OutgoingMail.state == MailState.QUEUED) & (ripe | _ahead(OutgoingMail.next_try_at, now))


def _lapsed(now: datetime) -> ColumnElement[bool]:
    over = (OutgoingMail.lease_until < now) | _ahead(OutgoingMail.lease_until, now)
    return (OutgoingMail.state == MailState.SENDING) & over


def _ahead(moment: InstrumentedAttribute[Any], now: datetime) -> ColumnElement[bool]:
    """True where a moment is later than any postponement: the clock was set back."""
    return moment > now + 2 * PAUSES[-1]


def _own(row: OutgoingMail) -> ColumnElement[bool]:
    return (OutgoingMail.id == row.id) & (OutgoingMail.claim == row.claim)


def _set(db: Session, values: Mapping[str, Any], *where: ColumnElement[bool]) -> bool:
    """Change one message where it still is as thought; whether it was."""
    statement = update(OutgoingMail).where(*where).values(**values).returning(OutgoingMail.id)
    statement = statement.execution_options(synchronize_session=False)
    return db.scalars(statement).first() is not None


def _settle(
    db: Session,
    row: OutgoingMail,
    now: datetime,
    state: MailState,
    values: Mapping[str, Any],
    verb: str = "",
) -> None:
    """Record the result of a try, unless another sender has taken the message over."""
    settled_as = {"state": state, "lease_until": None, **values}
    if not _set(db, settled_as, _own(row)):
        verb = f"{verb} by an earlier sender" if verb else ""
    db.refresh(row)
    if verb:
        note = f"{in_log(row)}: {row.last_error}" if row.last_error else in_log(row)
        audit_log.record(db, Actor(None, now), row, verb, job=row.job, note=note)
