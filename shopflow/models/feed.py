"""Calendar feeds: a person's secret address at which a calendar finds the promised dates."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, UtcDateTime

if TYPE_CHECKING:
    from shopflow.models.person import User


class CalendarFeed(Base):
    """One address, until it is revoked; the secret in it is not kept."""

    __tablename__ = "calendar_feed"

    id: Mapped[Id]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[Moment]
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    person: Mapped[User] = relationship()
