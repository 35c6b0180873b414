"""Swirl and tumble tests: a meter of the air's rotation, read beside a flow test."""

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


class SwirlMotion(StrEnum):
    """Axis that the air turns about: the bore's, or one across it."""

    SWIRL = gettext_noop("swirl")
    TUMBLE = gettext_noop("tumble")


class SwirlMeterKind(StrEnum):
    """Kind of a swirl meter."""

    TORQUE = gettext_noop("torque of a honeycomb")
    VANE = gettext_noop("speed of a vane wheel")


class Rotation(StrEnum):
    """Sense of rotation that counts as positive."""

    CLOCKWISE = gettext_noop("clockwise")
    COUNTERCLOCKWISE = gettext_noop("counterclockwise")


class SwirlTest(Base):
    """Readings of a swirl meter by lift, as typed."""

    __tablename__ = "swirl_test"
    __table_args__ = (
        CheckConstraint("bore_si > 0", name="bore_positive"),
        CheckConstraint("pressure_si > 0", name="pressure_positive"),
    )

    id: Mapped[Id]
    session_id: Mapped[int] = mapped_column(ForeignKey("bench_session.id"), index=True)
    """The flow test that says what flows at each lift, in which set-up and air."""

    motion: Mapped[SwirlMotion] = mapped_column(choice(SwirlMotion))
    meter_kind: Mapped[SwirlMeterKind] = mapped_column(choice(SwirlMeterKind))
    meter: Mapped[Line]
    """Name of the meter: tests with it share the error of its efficiency."""

    bore: Mapped[Quantity] = quantity("bore")
    """Of the tube the meter stands in."""

    adapter: Mapped[Line]
    """Tube or tumble adapter between head and meter."""

    rotation: Mapped[Rotation] = mapped_column(choice(Rotation))
    pressure: Mapped[Quantity | None] = quantity("pressure", optional=True)
    """Test pressure while the meter was read; None for that of the flow test."""

    reading_unit: Mapped[str] = mapped_column(String(10))
    readings: Mapped[list[list[str]]] = mapped_column(JSON)
    """Lift in the flow test's unit, and reading; a lift read again stands again."""

    efficiency: Mapped[Decimal | None] = mapped_column(DecimalText)
    efficiency_uncertainty: Mapped[Decimal | None] = mapped_column(DecimalText)
    """Expanded (k = 2), percent of the efficiency."""

    division: Mapped[Decimal | None] = mapped_column(DecimalText)
    """One division of the meter's scale, in the unit of the readings."""

    notes: Mapped[Words]
    entered_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    session: Mapped[BenchSession] = relationship()
    person: Mapped[User | None] = relationship()
