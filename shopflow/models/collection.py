"""Handing a job's heads over: collected at the counter, or shipped."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, Date, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Amount, Base, Id, Line, Moment, Name, UtcDateTime, Words, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class HandedOver(StrEnum):
    """Way in which the heads left the shop."""

    COLLECTED = gettext_noop("collected")
    SHIPPED = gettext_noop("shipped")


class Collection(Base):
    """Signed record of what left the shop and to whom; another replaces it only once this one is
    undone."""

    __tablename__ = "collection"
    __table_args__ = (
        CheckConstraint("handed_to <> ''", name="to_someone"),
        CheckConstraint("how <> 'shipped' OR carrier <> ''", name="shipped_by_someone"),
        CheckConstraint("how <> 'shipped' OR parcels > 0", name="shipped_in_parcels"),
        CheckConstraint("balance <= 0 OR release_reason <> ''", name="paid_or_released"),
    )

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    how: Mapped[HandedOver] = mapped_column(choice(HandedOver))
    handed_on: Mapped[date] = mapped_column(Date)
    handed_to: Mapped[Name]
    """Name of the person who signed for it at the counter, or to whom it was sent."""

    carrier: Mapped[Line]
    parcels: Mapped[int | None]
    tracking_number: Mapped[Line]
    packed_by: Mapped[Line]
    remarks: Mapped[Words]
    parts: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    """Each part: tag, name, count received, count given back, and a word where they differ."""

    papers: Mapped[list[str]] = mapped_column(JSON)
    """Titles of the documents handed over with it."""

    balance: Mapped[Amount]
    """Balance left to pay at that moment."""

    release_reason: Mapped[Words]
    """Reason why it left with a balance to pay."""

    recorded_at: Mapped[Moment]
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    taken_back_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    job: Mapped[Job] = relationship(back_populates="collections")
    recorded_by: Mapped[User | None] = relationship()
