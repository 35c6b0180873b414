"""Stretches of time that people spent on operations."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, Index, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, UtcDateTime, Versioned

if TYPE_CHECKING:
    from shopflow.models.operation import Operation
    from shopflow.models.person import User

RUNNING = text("ended_at IS NULL")


class TimeSpent(Versioned, Base):
    """One person at one operation from a start to a stop; it runs while it has no end."""

    __tablename__ = "time_spent"
    __table_args__ = (
        CheckConstraint("ended_at >= started_at", name="ends_after_start"),
        # One pair of hands does one thing at a time.
        Index(
            "ix_time_spent_running",
            "person_id",
            unique=True,
            sqlite_where=RUNNING,
            postgresql_where=RUNNING,
        ),
    )

    id: Mapped[Id]
    operation_id: Mapped[int] = mapped_column(ForeignKey("operation.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    started_at: Mapped[Moment]
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    operation: Mapped[Operation] = relationship(back_populates="stretches")
    person: Mapped[User] = relationship(lazy="joined", innerjoin=True)

    @property
    def runs(self) -> bool:
        """True where the work has not ended."""
        return self.ended_at is None

    def seconds(self, now: datetime) -> float:
        """Duration, s, up to `now` while it runs; 0 where the clock was set back."""
        return max(((self.ended_at or now) - self.started_at).total_seconds(), 0.0)
