"""The outbox: e-mails queued by people, and what people may do with them after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, RuleError
from shopflow.files import FileStore
from shopflow.mail.message import new_message_id
from shopflow.mail.sealing import Seal
from shopflow.models import Job, MailState, OutgoingMail
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.messaging import smtp_settings
from shopflow.services.messaging.enclosure import Enclosure
from shopflow.texts import gettext

LINK_MARK = "{link}"
"""Placeholder in the body where a private link goes when it is sent."""

STUCK = (MailState.REFUSED, MailState.GIVEN_UP, MailState.SET_ASIDE, MailState.UNSURE)
"""States that wait for a person."""

WAITING = (MailState.QUEUED, *STUCK)
"""States in which a message can still be called off."""


def _subject(value: Any) -> str:
    subject = str(fields.text(required=True)(value))
    if not subject.isprintable():
        raise ValueError(gettext("line breaks are not allowed: enter one line"))
    return subject


SPECIFICATION: fields.Specification = {
    "to_address": smtp_settings.one_address,
    "to_name": fields.text(),
    "also_to": smtp_settings.several_addresses,
    "cc": smtp_settings.several_addresses,
    "subject": _subject,
    "body": fields.words(),
}


def _each_once(clean: dict[str, Any]) -> dict[str, Any]:
    """The values with each recipient once: first as the recipient, last for a copy."""
    named = {clean["to_address"].casefold()}
    for name in ("also_to", "cc"):
        fresh = [
            recipient
            for recipient in clean.get(name, "").split()
            if recipient.casefold() not in named
        ]
        named |= {recipient.casefold() for recipient in fresh}
        clean[name] = "\n".join(fresh)
    return clean


_OF_JOB = (
    select(OutgoingMail)
    .where(OutgoingMail.job_id == bindparam("job_id"))
    .order_by(OutgoingMail.id.desc())
)


def get(db: Session, mail_id: int) -> OutgoingMail:
    """The message with this key. Raises NotFoundError."""
    mail = db.get(OutgoingMail, mail_id)
    if mail is None:
        raise NotFoundError(gettext("this message does not exist"))
    return mail


def recent(db: Session, limit: int, *, skip: int = 0) -> list[OutgoingMail]:
    """Messages, the latest first."""
    query = select(OutgoingMail).order_by(OutgoingMail.id.desc()).offset(skip).limit(limit)
    return list(db.scalars(query))


def stuck(db: Session) -> list[OutgoingMail]:
    """Messages that wait for a person, the oldest first."""
    query = select(OutgoingMail).where(OutgoingMail.state.in_(STUCK)).order_by(OutgoingMail.id)
    return list(db.scalars(query))


def of_job(db: Session, job: Job) -> list[OutgoingMail]:
    """A job's messages, the latest first."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def queue(
    db: Session,
    by: Actor,
    job: Job | None,
    values: Mapping[str, Any],
    *,
    enclosure: Enclosure | None = None,
    store: FileStore,
    link: str = "",
    seal: Seal,
) -> OutgoingMail:
    """Queue a message, with a paper frozen as it stands now and a private link to its job, if any.

    Raises ValidationError; RuleError where no mail server is set up.
    """
    clean = _each_once(fields.require(SPECIFICATION, values, "to_address", "subject"))
    sender = smtp_settings.get_shop(db).sender
    row = OutgoingMail(
        message_id=new_message_id(sender),
        job_id=job.id if job is not None else None,
        link_sealed=seal.shut(link),
        next_try_at=by.at,
        queued_at=by.at,
        queued_by_id=by.person_id,
        **clean,
    )
    if link and LINK_MARK not in row.body:
        row.body = f"{row.body}\n\n{LINK_MARK}"
    if enclosure is not None:
        row.attachment_name = enclosure.file_name
        row.attachment_sha256 = store.put(enclosure.pdf())
    db.add(row)
    audit_log.record(db, by, row, "queued", job=job, note=in_log(row))
    return row


def send_again(db: Session, by: Actor, row: OutgoingMail, *, did_not_arrive: bool = False) -> None:
    """Queue a message again, under the same Message-ID.

    Raises RuleError where it is not stuck, or may have arrived and nobody has asked.
    """
    if row.state is MailState.UNSURE and not did_not_arrive:
        raise RuleError(
            gettext("the message may have arrived: ask the recipient, then tick that it did not")
        )
    values = {"state": MailState.QUEUED, "attempts": 0, "next_try_at": by.at}
    _move(db, by, row, STUCK, {**values, "handed_over_at": None}, "queued again")


def arrived(db: Session, by: Actor, row: OutgoingMail) -> None:
    """Note that a message which may have been sent did arrive. Raises RuleError."""
    values = {"state": MailState.SENT, "sent_at": by.at, "link_sealed": ""}
    _move(db, by, row, (MailState.UNSURE,), values, "arrived")


def cancel(db: Session, by: Actor, row: OutgoingMail) -> None:
    """Call a message off, unless it is done or a sender has it just now. Raises RuleError."""
    values = {"state": MailState.CANCELLED, "link_sealed": ""}
    _move(db, by, row, WAITING, values, "cancelled")


def in_log(row: OutgoingMail) -> str:
    """A message in a few words, for the log."""
    return gettext(
        "to {recipients}: {content}",
        recipients=", ".join(row.recipients),
        content=row.attachment_name or row.subject,
    )


def _move(
    db: Session,
    by: Actor,
    row: OutgoingMail,
    states: Sequence[MailState],
    values: Mapping[str, Any],
    verb: str,
) -> None:
    """Change a message that is still in one of these states, and take it from its sender.

    One UPDATE looks and changes: a sender may learn at this very moment what became of it.
    """
    statement = (
        update(OutgoingMail)
        .where(OutgoingMail.id == row.id, OutgoingMail.state.in_(states))
        .values(claim="", **values)
        .returning(OutgoingMail.id)
        .execution_options(synchronize_session=False)
    )
    moved = db.scalars(statement).first() is not None
    db.refresh(row)
    if not moved:
        raise RuleError(gettext("the message is {state} by now", state=row.state))
    audit_log.record(db, by, row, verb, job=row.job, note=in_log(row))
