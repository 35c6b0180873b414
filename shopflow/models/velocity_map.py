"""Velocity maps: a section of a port traversed with a pitot probe, beside a flow test."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, DecimalText, Id, Line, Moment, Words, choice, quantity
from shopflow.models.person import User
from shopflow.models.session import BenchSession
from shopflow.texts import gettext_noop
from shopflow.units import Quantity


class Outline(StrEnum):
    """Shape of a section."""

    ROUND = gettext_noop("round or oval")
    RECTANGLE = gettext_noop("rectangle")


class VelocityMap(Base):
    """Pressure differences of a probe, in the middle and on arms to the wall, as typed."""

    __tablename__ = "velocity_map"
    __table_args__ = (
        CheckConstraint("lift_si > 0", name="lift_positive"),
        CheckConstraint("width_si > 0", name="width_positive"),
        CheckConstraint("height_si > 0", name="height_positive"),
        CheckConstraint("arms >= 1", name="arms_counted"),
        CheckConstraint("rings >= 1", name="rings_counted"),
    )

    id: Mapped[Id]
    session_id: Mapped[int] = mapped_column(ForeignKey("bench_session.id"), index=True)
    """The flow test whose set-up, pressure and air it was read in."""

    lift: Mapped[Quantity] = quantity("lift")
    place: Mapped[Line]
    """Of the section, as "20 mm inside the port flange"."""

    outline: Mapped[Outline] = mapped_column(choice(Outline))
    width: Mapped[Quantity] = quantity("width")
    height: Mapped[Quantity] = quantity("height")
    arms: Mapped[int]
    rings: Mapped[int]
    pressure_unit: Mapped[str] = mapped_column(String(10))
    middle: Mapped[Decimal] = mapped_column(DecimalText)
    pressures: Mapped[list[list[str]]] = mapped_column(JSON)
    """A list a ring, from the middle outwards, of a number an arm."""

    coefficient: Mapped[Decimal] = mapped_column(DecimalText)
    """Of the probe."""

    notes: Mapped[Words]
    entered_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    session: Mapped[BenchSession] = relationship()
    person: Mapped[User | None] = relationship()
