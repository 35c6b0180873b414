"""Flow benches, their ranges, and the calibrations those ranges were given."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Decimals,
    DecimalText,
    Id,
    Line,
    Moment,
    Name,
    Unit,
    Versioned,
    Words,
    choice,
    quantity,
)
from shopflow.texts import gettext_noop
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.bench_day import LeakCheck, PlateExchange
    from shopflow.models.person import User


class ReadingKind(StrEnum):
    """Quantity that a bench's scale is marked in; the values are the words of the session file."""

    VOLUME_FLOW = gettext_noop("volume flow")
    PERCENT_OF_RANGE = gettext_noop("percent of range")
    PRESSURE_DIFFERENCE = gettext_noop("pressure difference")


class Bench(Versioned, Base):
    """A flow bench."""

    __tablename__ = "bench"

    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(100), unique=True)
    reading: Mapped[ReadingKind] = mapped_column(
        choice(ReadingKind), default=ReadingKind.VOLUME_FLOW
    )
    notes: Mapped[Words]
    active: Mapped[bool] = mapped_column(default=True)

    ranges: Mapped[list[BenchRange]] = relationship(
        back_populates="bench",
        cascade="all, delete-orphan",
        order_by="BenchRange.id",
        lazy="selectin",
    )


class BenchRange(Versioned, Base):
    """One range of a bench."""

    __tablename__ = "bench_range"
    __table_args__ = (
        UniqueConstraint("bench_id", "name"),
        CheckConstraint("full_scale_si > 0", name="full_scale_positive"),
    )

    id: Mapped[Id]
    bench_id: Mapped[int] = mapped_column(ForeignKey("bench.id"))
    name: Mapped[Name]
    full_scale: Mapped[Quantity | None] = quantity("full_scale", optional=True)
    """The flow that 100 % stands for, on a bench read in percent."""

    element_kind: Mapped[Line]
    """Element that a pressure difference is read across; the words of the session file."""

    element_diameter: Mapped[Quantity | None] = quantity("element_diameter", optional=True)
    pipe_diameter: Mapped[Quantity | None] = quantity("pipe_diameter", optional=True)
    element_coefficient: Mapped[Decimal | None] = mapped_column(DecimalText)
    element_area: Mapped[Quantity | None] = quantity("element_area", optional=True)

    division: Mapped[Quantity | None] = quantity("division", optional=True)
    """The smallest division of its scale, in what that reads."""

    gauge_mark: Mapped[Line]
    """Name of the gauge that the test pressure is read from."""

    gauge_accuracy: Mapped[Quantity | None] = quantity("gauge_accuracy", optional=True)
    """Relative, plus or minus, as that gauge's certificate states it."""

    bench: Mapped[Bench] = relationship(back_populates="ranges")
    calibrations: Mapped[list[Calibration]] = relationship(
        back_populates="range",
        cascade="all, delete-orphan",
        order_by="Calibration.made_on",
        lazy="selectin",
    )

    checks: Mapped[list[BenchCheck]] = relationship(
        back_populates="range",
        cascade="all, delete-orphan",
        order_by="BenchCheck.at, BenchCheck.id",
    )

    leak_checks: Mapped[list[LeakCheck]] = relationship(
        back_populates="range",
        cascade="all, delete-orphan",
        order_by="LeakCheck.at, LeakCheck.id",
    )

    exchanges: Mapped[list[PlateExchange]] = relationship(
        back_populates="range",
        cascade="all, delete-orphan",
        order_by="PlateExchange.measured_on, PlateExchange.id",
    )

    leak_tests: Mapped[list[LeakTest]] = relationship(
        back_populates="range",
        cascade="all, delete-orphan",
        order_by="LeakTest.made_on, LeakTest.id",
    )

    def calibration_on(self, day: date) -> Calibration | None:
        """The calibration in force on a day: the last one made by then."""
        past = [item for item in self.calibrations if item.made_on <= day]
        return past[-1] if past else None


class Calibration(Versioned, Base):
    """A comparison of a range with a reference, good until it falls due."""

    __tablename__ = "calibration"
    __table_args__ = (
        UniqueConstraint("bench_range_id", "identifier"),
        CheckConstraint("expanded_uncertainty_si >= 0", name="uncertainty_not_negative"),
        CheckConstraint("due_on >= made_on", name="due_after_made"),
    )

    id: Mapped[Id]
    bench_range_id: Mapped[int] = mapped_column(ForeignKey("bench_range.id"))
    identifier: Mapped[str] = mapped_column(String(60))
    """The shop's own mark for it, written in session files as calibration_id."""

    reference: Mapped[Line]
    """Master plate or reference element it was compared with."""

    certificate_number: Mapped[Line]
    """Number of the reference's own certificate, where it has one."""

    factor: Mapped[Decimal] = mapped_column(DecimalText, default=Decimal("1.0"))
    expanded_uncertainty: Mapped[Quantity] = quantity("expanded_uncertainty")
    """Relative, with coverage factor 2; of a calibration by points what they have in common."""

    model: Mapped[str] = mapped_column(String(30), default="", server_default="")
    """Line or curve through its points, in the words of the session file; empty for a factor."""

    reading_unit: Mapped[Unit]
    readings: Mapped[Decimals]
    """Readings of the range at each point, rising."""

    flow_unit: Mapped[Unit]
    flows: Mapped[Decimals]
    """The reference's flow at each point."""

    uncertainties: Mapped[Decimals]
    """Expanded (k = 2), in percent of each flow."""

    scale_density: Mapped[Quantity | None] = quantity("scale_density", optional=True)
    """Density of the air that a restriction's scale is marked for."""

    made_on: Mapped[date] = mapped_column(Date)
    due_on: Mapped[date | None] = mapped_column(Date)
    notes: Mapped[Words]

    range: Mapped[BenchRange] = relationship(back_populates="calibrations")

    def is_overdue(self, day: date) -> bool:
        """True where the calibration fell due before this day."""
        return self.due_on is not None and day > self.due_on


class LeakTest(Base):
    """The leakage of a range with the valve shut, at several test pressures."""

    __tablename__ = "leak_test"
    __table_args__ = (CheckConstraint("expanded_uncertainty_si > 0", name="uncertainty_positive"),)

    id: Mapped[Id]
    bench_range_id: Mapped[int] = mapped_column(ForeignKey("bench_range.id"), index=True)
    made_on: Mapped[date] = mapped_column(Date)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    pressure_unit: Mapped[Unit]
    pressures: Mapped[Decimals]
    leakage_unit: Mapped[Unit]
    leakages: Mapped[Decimals]
    """As indicated."""

    expanded_uncertainty: Mapped[Quantity] = quantity("expanded_uncertainty")
    """Relative, with coverage factor 2, of each leakage."""

    notes: Mapped[Words]

    range: Mapped[BenchRange] = relationship(back_populates="leak_tests")
    person: Mapped[User | None] = relationship()


class BenchCheck(Base):
    """A range set against a plate of known flow, between calibrations, to see whether it drifts."""

    __tablename__ = "bench_check"
    __table_args__ = (
        CheckConstraint("expected_si > 0", name="expected_positive"),
        CheckConstraint("indicated_si > 0", name="indicated_positive"),
    )

    id: Mapped[Id]
    bench_range_id: Mapped[int] = mapped_column(ForeignKey("bench_range.id"), index=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    plate: Mapped[Name]
    expected: Mapped[Quantity] = quantity("expected")
    """Known flow of the plate at the pressure of the check."""

    indicated: Mapped[Quantity] = quantity("indicated")
    """Reading of the bench, as typed; beside it in m3/s, percent of range converted."""

    factor: Mapped[Decimal] = mapped_column(DecimalText)
    """The calibration factor in force then."""

    notes: Mapped[Words]

    range: Mapped[BenchRange] = relationship(back_populates="checks")
    person: Mapped[User | None] = relationship()

    @property
    def ratio(self) -> float:
        """Corrected flow over the plate's: 1 where the bench reads true."""
        return float(self.factor) * self.indicated.si / self.expected.si
