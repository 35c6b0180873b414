"""Webhooks: addresses that are told what happens in the shop, and what was posted to them."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Name, UtcDateTime, Versioned, Words, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.person import User


class DeliveryState(StrEnum):
    """State of a delivery; the values are shown as they are."""

    QUEUED = gettext_noop("queued")
    ASKED_FOR = gettext_noop("to be sent once")
    """By a person, as a trial or once more: sent at once, out of turn, and not tried again."""

    DELIVERED = gettext_noop("delivered")
    FAILED = gettext_noop("failed")
    SKIPPED = gettext_noop("skipped")


class Webhook(Versioned, Base):
    """An address, and the events that it is told of."""

    __tablename__ = "webhook"
    __table_args__ = (
        CheckConstraint("url <> ''", name="url_given"),
        CheckConstraint("events <> ''", name="events_given"),
        CheckConstraint("(claim = '') = (lease_until IS NULL)", name="leased_by_claim"),
    )

    id: Mapped[Id]
    url: Mapped[Name]
    events: Mapped[str] = mapped_column(Text)
    """Types of events, with a space between them."""

    secret_sealed: Mapped[str] = mapped_column(Text)
    """Sealed with the app's own key, which is not in the database."""

    earlier_secret_sealed: Mapped[str] = mapped_column(Text, default="")
    earlier_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """Time until which posts are signed with the secret before as well."""

    is_on: Mapped[bool] = mapped_column(default=True)
    stopped_because: Mapped[Words]
    """Reason why it was switched off by itself; empty where a person did so."""

    made_at: Mapped[Moment]
    made_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    cursor: Mapped[int] = mapped_column(BigInteger)
    """Entry of the record log up to which events were queued."""

    claim: Mapped[str] = mapped_column(String(40), default="")
    """Courier that posts for it now: one at a time, so that the order holds."""

    lease_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    next_try_at: Mapped[Moment]
    tries: Mapped[int] = mapped_column(default=0)
    """Posts that failed since one was last delivered."""

    failing_since: Mapped[datetime | None] = mapped_column(UtcDateTime)

    made_by: Mapped[User | None] = relationship()

    def tells_of(self, event: str) -> bool:
        """True where it is told of events of a type."""
        return event in self.events.split()


class WebhookDelivery(Base):
    """A message to an address, its tries and the answer."""

    __tablename__ = "webhook_delivery"
    __table_args__ = (Index(None, "webhook_id", "state"),)

    id: Mapped[Id]
    webhook_id: Mapped[int] = mapped_column(ForeignKey("webhook.id"))
    message_id: Mapped[str] = mapped_column(String(60), unique=True)
    """The same at each try, so that the receiver knows a repeat."""

    event: Mapped[str] = mapped_column(String(60))
    body: Mapped[Words]
    queued_at: Mapped[Moment]
    state: Mapped[DeliveryState] = mapped_column(choice(DeliveryState))
    tries: Mapped[int] = mapped_column(default=0)
    tried_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    status: Mapped[int | None]
    """HTTP status of the last answer; none where none came."""

    error: Mapped[Line]

    webhook: Mapped[Webhook] = relationship()
