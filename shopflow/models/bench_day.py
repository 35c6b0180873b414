"""Bench days: warming up, leak checks, and plates exchanged with another shop."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Name, Words, quantity
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.bench import Bench, BenchRange
    from shopflow.models.person import User


class BenchDay(Base):
    """A day on which a bench was warmed up."""

    __tablename__ = "bench_day"
    __table_args__ = (
        UniqueConstraint("bench_id", "day"),
        CheckConstraint("minutes > 0", name="minutes_positive"),
    )

    id: Mapped[Id]
    bench_id: Mapped[int] = mapped_column(ForeignKey("bench.id"))
    day: Mapped[date] = mapped_column(Date)
    """In the shop's time zone."""

    minutes: Mapped[int]
    """Minutes that it ran before the first check."""

    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    bench: Mapped[Bench] = relationship()
    person: Mapped[User | None] = relationship()


class LeakCheck(Base):
    """The leakage of a range with the valve shut, read once at one pressure."""

    __tablename__ = "leak_check"
    __table_args__ = (
        CheckConstraint("pressure_si > 0", name="pressure_positive"),
        CheckConstraint("leakage_si >= 0", name="leakage_not_negative"),
    )

    id: Mapped[Id]
    bench_range_id: Mapped[int] = mapped_column(ForeignKey("bench_range.id"), index=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    pressure: Mapped[Quantity] = quantity("pressure")
    leakage: Mapped[Quantity] = quantity("leakage")
    """Reading of the bench, as typed; beside it in m3/s, percent of range converted."""

    notes: Mapped[Words]

    range: Mapped[BenchRange] = relationship(back_populates="leak_checks")
    person: Mapped[User | None] = relationship()


class PlateExchange(Base):
    """One plate measured here and by another shop."""

    __tablename__ = "plate_exchange"
    __table_args__ = (
        CheckConstraint("own_flow_si > 0", name="own_flow_positive"),
        CheckConstraint("their_flow_si > 0", name="their_flow_positive"),
        CheckConstraint("own_uncertainty_si > 0", name="own_uncertainty_positive"),
        CheckConstraint("their_uncertainty_si > 0", name="their_uncertainty_positive"),
    )

    id: Mapped[Id]
    bench_range_id: Mapped[int] = mapped_column(ForeignKey("bench_range.id"), index=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    plate: Mapped[Name]
    other_shop: Mapped[Name]
    measured_on: Mapped[date] = mapped_column(Date)
    pressure: Mapped[Quantity] = quantity("pressure")
    own_flow: Mapped[Quantity] = quantity("own_flow")
    """Corrected, at the pressure of the exchange."""

    own_uncertainty: Mapped[Quantity] = quantity("own_uncertainty")
    """Relative, expanded with coverage factor 2, as the other's."""

    their_flow: Mapped[Quantity] = quantity("their_flow")
    their_uncertainty: Mapped[Quantity] = quantity("their_uncertainty")
    notes: Mapped[Words]

    range: Mapped[BenchRange] = relationship(back_populates="exchanges")
    person: Mapped[User | None] = relationship()
