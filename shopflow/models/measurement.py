"""Measurements on a head, with their locations and limits."""

from __future__ import annotations

import math
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, String, false
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
from shopflow.models.places import OF_A_VALVE, HeadPlace, HeadPlan, PlaceKind, valve_label
from shopflow.texts import gettext, gettext_noop, translated
from shopflow.units import CONDITIONS, Quantity, UnitSystem

if TYPE_CHECKING:
    from shopflow.models.decision import Decision
    from shopflow.models.job import Visit
    from shopflow.models.operation import Operation
    from shopflow.models.person import User


class When(StrEnum):
    """Stage of a measurement: before or after the work."""

    BEFORE = gettext_noop("before")
    AFTER = gettext_noop("after")


class Datum(StrEnum):
    """Face from which distances along a port are measured."""

    SEAT = gettext_noop("valve seat")
    FLANGE = gettext_noop("port flange")
    MANIFOLD = gettext_noop("manifold flange")
    """Distances along a runner of the manifold, away from the head."""


class Verdict(StrEnum):
    """A figure against its limits."""

    WITHIN = gettext_noop("within limits")
    OUTSIDE = gettext_noop("outside limits")
    NO_LIMIT = gettext_noop("no limit given")


class MeasurementKind(Versioned, Base):
    """A quantity a shop measures, as guide clearance or chamber volume."""

    __tablename__ = "measurement_kind"
    __table_args__ = (
        CheckConstraint("least_si <= greatest_si", name="bounds_in_order"),
        CheckConstraint(
            "us_decimals BETWEEN 0 AND 6 AND si_decimals BETWEEN 0 AND 6", name="decimals"
        ),
    )

    id: Mapped[Id]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    name: Mapped[Name]
    dimension: Mapped[str] = mapped_column(String(40))
    us_unit: Mapped[str] = mapped_column(String(20))
    si_unit: Mapped[str] = mapped_column(String(20))
    place_kind: Mapped[PlaceKind] = mapped_column(
        choice(PlaceKind), default=PlaceKind.HEAD, server_default=PlaceKind.HEAD.value
    )
    us_decimals: Mapped[int] = mapped_column(default=3, server_default="3")
    si_decimals: Mapped[int] = mapped_column(default=2, server_default="2")
    least: Mapped[Quantity | None] = quantity("least", optional=True)
    greatest: Mapped[Quantity | None] = quantity("greatest", optional=True)
    """Between what it lies on any head: outside, a digit or a unit is wrong."""

    uncertainty: Mapped[Quantity | None] = quantity("uncertainty", optional=True)
    """Expanded (k = 2) uncertainty of one measurement here, or its share of the value in percent;
    None where the shop has not stated it."""

    position: Mapped[int] = mapped_column(default=0, server_default="0")
    """Its place in lists and sheets."""

    active: Mapped[bool] = mapped_column(default=True)

    def unit_in(self, units: UnitSystem) -> str:
        """The unit that a shop which reads these units enters it in."""
        return self.us_unit if units.measures_us(self.dimension) else self.si_unit


class Measurement(Versioned, Decidable, Base):
    """One measured figure, kept as typed beside its SI value."""

    __tablename__ = "measurement"
    __table_args__ = (
        CheckConstraint("cylinder >= 1", name="cylinder_counted"),
        CheckConstraint("valve >= 1", name="valve_counted"),
        CheckConstraint(
            "valve IS NULL OR (cylinder IS NOT NULL AND side <> '')", name="valve_placed"
        ),
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
    valve: Mapped[int | None]
    """Number of the valve on its side of the cylinder, from 1; none where it is not known."""

    place: Mapped[Line]
    """Location on the port or valve, as "pushrod pinch"; empty where there is only one."""

    distance: Mapped[Quantity | None] = quantity("distance", optional=True)
    """Distance along the port from its datum, for a section of the port."""

    datum: Mapped[Datum | None] = mapped_column(choice(Datum))
    when: Mapped[When] = mapped_column("taken", choice(When), default=When.AFTER)
    value: Mapped[Quantity] = quantity("value")
    lower: Mapped[Quantity | None] = quantity("lower", optional=True)
    upper: Mapped[Quantity | None] = quantity("upper", optional=True)
    calculated: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where it follows from other measurements of its place, and so is not typed."""

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
        return gettext(
            "{value}, limits {limits}",
            value=self.value.text,
            limits=self.limits or gettext("none"),
        )

    @property
    def title(self) -> str:
        """The name of what was measured."""
        return self.kind.name

    @property
    def where(self) -> str:
        """The location, as "cylinder 2 intake, 25 mm from the valve seat"."""
        spot = self._valve_in_words or " ".join(
            part
            for part in (
                gettext("cylinder {cylinder}", cylinder=self.cylinder) if self.cylinder else "",
                translated(self.side),
            )
            if part
        )
        along = (
            gettext(
                "{distance} from the {datum}",
                distance=self.distance,
                datum=translated(self.datum.value),
            )
            if self.datum
            else ""
        )
        return ", ".join(part for part in (spot, self.place, along) if part)

    @property
    def _valve_in_words(self) -> str:
        """The valve it was taken at, by the name its engine type has for it; empty for none."""
        if self.valve is None or self.cylinder is None:
            return ""
        names = self.job_head.head.engine_type.valve_names(self.side)
        if len(names) == 1 and not names[0]:
            # The only valve of its side needs no telling from others.
            return ""
        # A layout with fewer valves than there were has no name for it.
        name = (
            names[self.valve - 1]
            if self.valve <= len(names)
            else gettext("no. {valve}", valve=self.valve)
        )
        kind = self.kind.place_kind
        return valve_label(
            self.cylinder, self.side, name, kind if kind in OF_A_VALVE else PlaceKind.VALVE
        )

    @property
    def place_found(self) -> HeadPlace | None:
        """The place of its head that it was taken at; none where that is not certain."""
        plan = self.job_head.head.plan
        return self.place_in(plan) if plan is not None else None

    def place_in(self, plan: HeadPlan) -> HeadPlace | None:
        """The place of a head with this plan that it was taken at; none where not certain."""
        kind = self.kind.place_kind
        if kind is PlaceKind.HEAD:
            return plan.place_at(kind, (None, "", None))
        if kind is PlaceKind.CYLINDER:
            return plan.place_at(kind, (self.cylinder, "", None))
        return plan.place_at(kind, (self.cylinder, self.side, self.valve))


def limits_in_words(lower: Quantity | None, upper: Quantity | None) -> str:
    """Limits as typed, the unit said once where both share it; empty where there are none."""
    words = [bound.text for bound in (lower, upper) if bound]
    if words and all(word in CONDITIONS for word in words):
        return _conditions_in_words(lower, upper)
    if lower and upper:
        low = lower.number if lower.unit == upper.unit else lower.text
        return gettext("{low} to {upper}", low=low, upper=upper.text)
    if lower:
        return gettext("from {lower}", lower=lower.text)
    return gettext("to {upper}", upper=upper.text) if upper else ""


def _conditions_in_words(lower: Quantity | None, upper: Quantity | None) -> str:
    """The conditions between two bounds, as "good or repaired"."""
    first = int(lower.si) - 1 if lower else 0
    last = int(upper.si) if upper else len(CONDITIONS)
    *others, worst = map(translated, CONDITIONS[first:last])
    if not others:
        return worst
    return gettext("{others} or {worst}", others=", ".join(others), worst=worst)


def _reaches(value: float, bound: float) -> bool:
    """True where a value is at least a bound, within rounding: 0.05334 mm counts as 0.0021 in."""
    return value >= bound or math.isclose(value, bound, rel_tol=1e-12)
