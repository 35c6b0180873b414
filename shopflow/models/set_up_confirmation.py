"""Confirmations: two flow tests on unlike set-ups that a person means to compare."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment

if TYPE_CHECKING:
    from shopflow.models.person import User
    from shopflow.models.session import BenchSession


class SetUpConfirmation(Base):
    """A statement that two tests may be compared though their set-ups are not stated alike."""

    __tablename__ = "set_up_confirmation"
    __table_args__ = (
        UniqueConstraint("session_id", "other_id"),
        CheckConstraint("session_id <> other_id", name="of_two"),
        CheckConstraint("reason <> ''", name="has_reason"),
    )

    id: Mapped[Id]
    session_id: Mapped[int] = mapped_column(ForeignKey("bench_session.id"))
    """The test of the two that states its set-up; where both do, the later one on record."""

    other_id: Mapped[int] = mapped_column(ForeignKey("bench_session.id"), index=True)
    is_same: Mapped[bool]
    """True where the set-up was the same and one test does not state it; False where the
    difference is meant."""

    reason: Mapped[str] = mapped_column(String(200))
    confirmed_at: Mapped[Moment]
    confirmed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    session: Mapped[BenchSession] = relationship(
        foreign_keys=[session_id], back_populates="set_up_confirmations"
    )
    other: Mapped[BenchSession] = relationship(foreign_keys=[other_id])
    confirmed_by: Mapped[User | None] = relationship()
