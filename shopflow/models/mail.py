"""The shop's mail server, and the messages that go out through it."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.mail.server import Security
from shopflow.models.base import Base, Id, Line, Moment, Name, UtcDateTime, Versioned, Words, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class MailState(StrEnum):
    """State of a message; the values are shown as they are."""

    QUEUED = gettext_noop("queued")
    SENDING = gettext_noop("sending")
    SENT = gettext_noop("sent")
    UNSURE = gettext_noop("may have been sent")
    REFUSED = gettext_noop("failed")
    GIVEN_UP = gettext_noop("given up")
    CANCELLED = gettext_noop("cancelled")
    SET_ASIDE = gettext_noop("set aside")


class MailServer(Versioned, Base):
    """One row: the server the shop sends through, and as whom."""

    __tablename__ = "mail_server"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("port BETWEEN 1 AND 65535", name="port"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, default=1)
    host: Mapped[Name]
    port: Mapped[int]
    security: Mapped[Security] = mapped_column(choice(Security))
    login: Mapped[Line]
    password_sealed: Mapped[str] = mapped_column(Text, default="")
    """Sealed with the app's own key, which is not in the database."""

    sender: Mapped[Name]
    reply_to: Mapped[Line]
    log_head_to: Mapped[Line] = mapped_column(server_default="")
    """Address outside the shop that gets the head of the record log each day; empty for none."""


class OutgoingMail(Base):
    """A message to be sent once: its words, its paper as it stood, and what became of it."""

    __tablename__ = "outgoing_mail"
    __table_args__ = (
        Index(None, "state", "next_try_at"),
        CheckConstraint("(attachment_name = '') = (attachment_sha256 = '')", name="attachment"),
        CheckConstraint("(state = 'sending') = (lease_until IS NOT NULL)", name="leased_to_send"),
        CheckConstraint("state <> 'sent' OR sent_at IS NOT NULL", name="sent_at_some_time"),
    )

    id: Mapped[Id]
    message_id: Mapped[str] = mapped_column(String(255), unique=True)
    """Fixed when it is queued, so that a message sent twice is known as one."""

    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)
    to_address: Mapped[Name]
    to_name: Mapped[Line]
    also_to: Mapped[Words]
    cc: Mapped[Words]
    """Further addresses, one to a line."""

    subject: Mapped[Name]
    body: Mapped[Words]
    attachment_name: Mapped[Line]
    attachment_sha256: Mapped[str] = mapped_column(String(64), default="")
    link_sealed: Mapped[str] = mapped_column(Text, default="")
    """The address of a private link, until it is sent: the body has a mark in its place."""

    state: Mapped[MailState] = mapped_column(choice(MailState), default=MailState.QUEUED)
    attempts: Mapped[int] = mapped_column(default=0)
    next_try_at: Mapped[Moment]
    claim: Mapped[str] = mapped_column(String(40), default="")
    """Sender that has it, or had it last."""

    lease_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    handed_over_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """Time when its content began to go to the server: from then on it may arrive."""

    last_error: Mapped[Words]
    queued_at: Mapped[Moment]
    queued_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    sent_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    @property
    def recipients(self) -> tuple[str, ...]:
        """Everyone it goes to, the first one first."""
        return (self.to_address, *self.also_to.split(), *self.cc.split())

    job: Mapped[Job | None] = relationship()
    queued_by: Mapped[User | None] = relationship()
