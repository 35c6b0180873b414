"""Measurements on a head, with their locations and limits."""

from __future__ import annotations

import math
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, String
from sqlalchemy.ext.hybrid import hybrid_property
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Id,
    Line,
    Moment,
    Name,
    UtcDateTime,
    Versioned,
    choice,
    quantity,
)
from shopflow.models.decision import Decidable
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.decision import Decision
    from shopflow.models.job import Visit
    from shopflow.models.operation import Operation
    from shopflow.models.person import User


class When(StrEnum):
    """Stage of a measurement: before or after the work."""

    BEFORE = "before"
    AFTER = "after"


class Datum(StrEnum):
    """Face from which distances along a port are measured."""

    SEAT = "valve seat"
    FLANGE = "port flange"


class Verdict(StrEnum):
    """A figure against its limits."""

    WITHIN = "within limits"
    OUTSIDE = "outside limits"
    NO_LIMIT = "no limit given"


class MeasurementKind(Versioned, Base):
    """A quantity a shop measures, as guide clearance or chamber volume."""

    __tablename__ = "measurement_kind"

    id: Mapped[Id]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    name: Mapped[Name]
    dimension: Mapped[str] = mapped_column(String(40))
    us_unit: Mapped[str] = mapped_column(String(20))
    si_unit: Mapped[str] = mapped_column(String(20))
    active: Mapped[bool] = mapped_column(default=True)


class Measurement(Versioned, Decidable, Base):
    """One measured figure, kept as typed beside its SI value."""

    __tablename__ = "measurement"
    __table_args__ = (
        CheckConstraint("cylinder >= 1", name="cylinder_counted"),
        CheckConstraint("lower_si <= upper_si", name="limits_in_order"),
        CheckConstraint("side IN ('', 'intake', 'exhaust')", name="side"),
        CheckConstraint("distance_si >= 0", name="distance_not_negative"),
        CheckConstraint("(distance_si IS NULL) = (datum IS NULL)", name="distance_has_datum"),
        CheckConstraint("(struck_at IS NULL) = (struck_because = '')", name="striking_has_reason"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    operation_id: Mapped[int | None] = mapped_column(ForeignKey("operation.id"), index=True)
    kind_id: Mapped[int] = mapped_column(ForeignKey("measurement_kind.id"), index=True)
    cylinder: Mapped[int | None]
    side: Mapped[str] = mapped_column(String(10), default="")
    place: Mapped[Line]
    """Location on the port or valve, as "pushrod pinch"; empty where there is only one."""

    distance: Mapped[Quantity | None] = quantity("distance", optional=True)
    """Distance along the port from its datum, for a section of the port."""

    datum: Mapped[Datum | None] = mapped_column(choice(Datum))
    when: Mapped[When] = mapped_column("taken", choice(When), default=When.AFTER)
    value: Mapped[Quantity] = quantity("value")
    lower: Mapped[Quantity | None] = quantity("lower", optional=True)
    upper: Mapped[Quantity | None] = quantity("upper", optional=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    notes: Mapped[Line]
    struck_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    struck_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    struck_because: Mapped[str] = mapped_column(String(200), default="", server_default="")

    job_head: Mapped[Visit] = relationship(back_populates="measurements")
    operation: Mapped[Operation | None] = relationship(back_populates="measurements")
    kind: Mapped[MeasurementKind] = relationship(lazy="joined", innerjoin=True)
    person: Mapped[User | None] = relationship(foreign_keys=[person_id])
    struck_by: Mapped[User | None] = relationship(foreign_keys=[struck_by_id])
    decisions: Mapped[list[Decision]] = relationship(
        back_populates="measurement", order_by="Decision.id"
    )

    @hybrid_property
    def counts(self) -> bool:
        """The one rule of which measurements count: one struck out counts nowhere.

        `Visit.measurements` and `Operation.measurements` hold those that count.
        """
        return self.struck_at is None

    @counts.inplace.expression
    @classmethod
    def _counts(cls) -> ColumnElement[bool]:
        return cls.struck_at.is_(None)

    @property
    def verdict(self) -> Verdict:
        """The figure against its limits, both ends included."""
        if self.lower is None and self.upper is None:
            return Verdict.NO_LIMIT
        low = self.lower is None or _reaches(self.value.si, self.lower.si)
        high = self.upper is None or _reaches(self.upper.si, self.value.si)
        return Verdict.WITHIN if low and high else Verdict.OUTSIDE

    @property
    def limits(self) -> str:
        """Its limits in words, as "0.025 to 0.055 mm"; empty where there are none."""
        return limits_in_words(self.lower, self.upper)

    @property
    def figure(self) -> str:
        """The value with its limits, as a decision on it holds them."""
        return f"{self.value.text}, limits {self.limits or 'none'}"

    @property
    def title(self) -> str:
        """The name of what was measured."""
        return self.kind.name

    @property
    def where(self) -> str:
        """The location, as "cylinder 2 intake, 25 mm from the valve seat"."""
        spot = " ".join(
            part
            for part in (f"cylinder {self.cylinder}" if self.cylinder else "", self.side)
            if part
        )
        along = f"{self.distance} from the {self.datum.value}" if self.datum else ""
        return ", ".join(part for part in (spot, self.place, along) if part)


def limits_in_words(lower: Quantity | None, upper: Quantity | None) -> str:
    """Limits as typed, the unit said once where both share it; empty where there are none."""
    if lower and upper:
        low = lower.number if lower.unit == upper.unit else lower.text
        return f"{low} to {upper.text}"
    if lower:
        return f"from {lower.text}"
    return f"to {upper.text}" if upper else ""


def _reaches(value: float, bound: float) -> bool:
    """True where a value is at least a bound, within rounding: 0.05334 mm counts as 0.0021 in."""
    return value >= bound or math.isclose(value, bound, rel_tol=1e-12)
