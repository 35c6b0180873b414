"""Holds on a head: parts, the customer's answer, or work done outside."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, UtcDateTime, Versioned, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Visit
    from shopflow.models.person import User


class WaitFor(StrEnum):
    """Whom or what a head waits for."""

    PARTS = gettext_noop("parts")
    CUSTOMER = gettext_noop("the customer")
    OUTSIDE = gettext_noop("outside work")


class Hold(Versioned, Base):
    """One stretch of waiting, from a day until it is over."""

    __tablename__ = "wait"
    __table_args__ = (
        CheckConstraint("what <> ''", name="what_given"),
        CheckConstraint("expected_on >= since", name="expected_after_since"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    wait_for: Mapped[WaitFor] = mapped_column(choice(WaitFor))
    what: Mapped[Line]
    since: Mapped[date] = mapped_column(Date)
    expected_on: Mapped[date | None] = mapped_column(Date)
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ends_with_parts: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where it ends by itself once every part of the head is here."""

    written_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship(back_populates="waits")
    written_by: Mapped[User | None] = relationship()

    @property
    def is_over(self) -> bool:
        """True where the hold has ended."""
        return self.ended_at is not None
