"""Results of pressure, vacuum, leak and crack tests: the conditions, and passed or failed."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Versioned, choice, quantity
from shopflow.models.decision import Decidable
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.decision import Decision
    from shopflow.models.operation import Operation
    from shopflow.models.person import User


class IntegrityKind(StrEnum):
    """Method by which a head is tested for cracks and leaks."""

    PRESSURE = "pressure test"
    VACUUM = "vacuum test"
    LEAK = "leak test"
    CRACK = "crack test"


class IntegrityTest(Versioned, Decidable, Base):
    """One test of one step, kept as typed; a later one of the same place replaces it."""

    __tablename__ = "integrity_test"
    __table_args__ = (
        CheckConstraint("medium <> ''", name="medium_given"),
        CheckConstraint("pressure_si > 0", name="pressure_positive"),
        CheckConstraint("duration_si > 0", name="duration_positive"),
        CheckConstraint("pressure_drop_si >= 0", name="drop_not_negative"),
    )

    id: Mapped[Id]
    operation_id: Mapped[int] = mapped_column(ForeignKey("operation.id"), index=True)
    kind: Mapped[IntegrityKind] = mapped_column(choice(IntegrityKind))
    place: Mapped[Line]
    """The part tested, as "cylinder 2 exhaust"; empty for the whole head."""

    medium: Mapped[Line]
    """The fluid or the method, as "water" or "dye penetrant"."""

    pressure: Mapped[Quantity | None] = quantity("pressure", optional=True)
    """Above the air around it; of a vacuum test below it."""

    duration: Mapped[Quantity | None] = quantity("duration", optional=True)
    drop: Mapped[Quantity | None] = quantity("pressure_drop", optional=True)
    passed: Mapped[bool]
    notes: Mapped[Line]
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    operation: Mapped[Operation] = relationship(back_populates="integrity_tests")
    person: Mapped[User | None] = relationship(lazy="joined")
    decisions: Mapped[list[Decision]] = relationship(
        back_populates="integrity_test", order_by="Decision.id"
    )

    @property
    def title(self) -> str:
        """Its name, as "Pressure test"."""
        return self.kind.value.capitalize()

    @property
    def where(self) -> str:
        """The part tested; empty for the whole head."""
        return self.place

    @property
    def result(self) -> str:
        """Passed or failed."""
        return "passed" if self.passed else "failed"

    @property
    def conditions(self) -> str:
        """Test conditions, as "water, 4 bar, 10 min, drop 0.1 bar"."""
        parts = [self.medium, *(each.text for each in (self.pressure, self.duration) if each)]
        return ", ".join([*parts, f"drop {self.drop.text}"] if self.drop else parts)

    @property
    def figure(self) -> str:
        """The result with its conditions, as a decision on it holds them."""
        return f"{self.result}: {self.conditions}"[:200]
