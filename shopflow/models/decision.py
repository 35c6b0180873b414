"""Decisions on measurements outside their limits and on failed tests."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Words, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.integrity_test import IntegrityTest
    from shopflow.models.measurement import Measurement
    from shopflow.models.person import User


class Choice(StrEnum):
    """The ways to continue from a measurement outside its limits, or a failed test."""

    GO_ON = gettext_noop("go on as it is")
    AGAIN = gettext_noop("do it again")
    ASK = gettext_noop("ask the customer")


class Decision(Base):
    """Someone's decision on one result as it stood, never changed; a later one replaces it."""

    __tablename__ = "decision"
    __table_args__ = (
        CheckConstraint("reason <> ''", name="has_reason"),
        CheckConstraint(
            "(measurement_id IS NULL) <> (integrity_test_id IS NULL)", name="on_one_result"
        ),
    )

    id: Mapped[Id]
    measurement_id: Mapped[int | None] = mapped_column(ForeignKey("measurement.id"), index=True)
    integrity_test_id: Mapped[int | None] = mapped_column(
        ForeignKey("integrity_test.id"), index=True
    )
    choice: Mapped[Choice] = mapped_column(choice(Choice))
    reason: Mapped[Words]
    figure: Mapped[Line]
    """The value with its limits when it was decided; a decision stands while they are the same."""

    at: Mapped[Moment]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))

    measurement: Mapped[Measurement | None] = relationship(back_populates="decisions")
    integrity_test: Mapped[IntegrityTest | None] = relationship(back_populates="decisions")
    person: Mapped[User] = relationship(lazy="joined", innerjoin=True)


class Decidable:
    """Subject of a decision; `figure` describes its present state in words."""

    if TYPE_CHECKING:
        decisions: Mapped[list[Decision]]

        @property
        def figure(self) -> str: ...

    @property
    def decision(self) -> Decision | None:
        """The last decision, while the result is the one that was decided on."""
        last = self.decisions[-1] if self.decisions else None
        return last if last is not None and last.figure == self.figure else None
