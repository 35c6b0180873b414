"""What was decided of figures outside their limits."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Words, choice

if TYPE_CHECKING:
    from shopflow.models.measurement import Measurement
    from shopflow.models.person import Person


class Choice(StrEnum):
    """What can be decided of a figure outside its limits."""

    GO_ON = "go on as it is"
    AGAIN = "do it again"
    ASK = "ask the customer"


class Decision(Base):
    """Someone's word on one figure as it stood; it is never changed, a later one replaces it."""

    __tablename__ = "decision"
    __table_args__ = (CheckConstraint("reason <> ''", name="has_reason"),)

    id: Mapped[Id]
    measurement_id: Mapped[int] = mapped_column(ForeignKey("measurement.id"), index=True)
    choice: Mapped[Choice] = mapped_column(choice(Choice))
    reason: Mapped[Words]
    figure: Mapped[Line]
    """The value with its limits when it was decided; a decision stands while they are the same."""

    at: Mapped[Moment]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))

    measurement: Mapped[Measurement] = relationship(back_populates="decisions")
    person: Mapped[Person] = relationship(lazy="joined", innerjoin=True)
