"""Tokens that let a program of the shop's read its records."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Name, UtcDateTime

if TYPE_CHECKING:
    from shopflow.models.person import User


class ApiToken(Base):
    """A named token; the secret itself is not kept."""

    __tablename__ = "api_token"
    __table_args__ = (
        CheckConstraint("expires_at > made_at", name="lasts"),
        CheckConstraint("name <> ''", name="name_given"),
    )

    id: Mapped[Id]
    name: Mapped[Name]
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[Moment]
    made_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    expires_at: Mapped[Moment]
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    last_used_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    made_by: Mapped[User | None] = relationship()

    def opens(self, now: datetime) -> bool:
        """True where the token may be used at this moment."""
        return self.revoked_at is None and now < self.expires_at
