"""The owner's word that a step may cut metal before the customer has approved it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Words

if TYPE_CHECKING:
    from shopflow.models.operation import Operation
    from shopflow.models.person import User


class Release(Base):
    """One step let go ahead of approval, by whom, when and why."""

    __tablename__ = "release"
    __table_args__ = (CheckConstraint("reason <> ''", name="has_reason"),)

    id: Mapped[Id]
    operation_id: Mapped[int] = mapped_column(ForeignKey("operation.id"), unique=True)
    at: Mapped[Moment]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    reason: Mapped[Words]

    operation: Mapped[Operation] = relationship(back_populates="release")
    person: Mapped[User] = relationship(lazy="joined", innerjoin=True)
