"""Hand-off notes: what the assembler is told about a head."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Id,
    Line,
    Moment,
    Name,
    UtcDateTime,
    Versioned,
    Words,
    quantity,
)
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.job import JobHead
    from shopflow.models.person import Person


class HandOffNote(Versioned, Base):
    """The note that goes on with one head."""

    __tablename__ = "hand_off_note"
    __table_args__ = (
        CheckConstraint("(signed_at IS NULL) = (signed_by_id IS NULL)", name="signed_by_someone"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), unique=True)
    addressee: Mapped[Line]
    """Who will assemble the engine."""

    to_check: Mapped[Words]
    """What the assembler must check before first start, one per line."""

    cautions: Mapped[Words]
    """The porter's own, one per line, beside the usual ones."""

    notes: Mapped[Words]
    written_at: Mapped[Moment]
    signed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    signed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[JobHead] = relationship(back_populates="hand_off")
    signed_by: Mapped[Person | None] = relationship()
    valves: Mapped[list[ValveSetUp]] = relationship(
        back_populates="note",
        cascade="all, delete-orphan",
        order_by="ValveSetUp.side.desc()",
        lazy="selectin",
    )
    figures: Mapped[list[HandOffFigure]] = relationship(
        back_populates="note",
        cascade="all, delete-orphan",
        order_by="HandOffFigure.position",
        lazy="selectin",
    )


class ValveSetUp(Base):
    """Springs and seats of one side, from which the seat load is worked out."""

    __tablename__ = "valve_set_up"
    __table_args__ = (
        UniqueConstraint("note_id", "side"),
        CheckConstraint("side IN ('intake', 'exhaust')", name="side"),
        CheckConstraint("base_seat_load_si >= 0", name="seat_load_not_negative"),
        CheckConstraint("spring_rate_si > 0", name="spring_rate_positive"),
        CheckConstraint("installed_height_si > 0", name="installed_height_positive"),
        CheckConstraint("coil_bind_height_si > 0", name="coil_bind_positive"),
        CheckConstraint("valve_lift_si > 0", name="valve_lift_positive"),
        CheckConstraint("port_pressure_si >= 0", name="port_pressure_not_negative"),
        CheckConstraint("seat_angle_allowance_si >= 0", name="allowance_not_negative"),
    )

    id: Mapped[Id]
    note_id: Mapped[int] = mapped_column(ForeignKey("hand_off_note.id"))
    side: Mapped[str] = mapped_column(String(10))
    base_seat_load: Mapped[Quantity | None] = quantity("base_seat_load", optional=True)
    """Load wanted on the seat before boost and seat angle are allowed for."""

    seat_angle_allowance: Mapped[Quantity | None] = quantity("seat_angle_allowance", optional=True)
    """What the porter adds for a shallower seat."""

    port_pressure: Mapped[Quantity | None] = quantity("port_pressure", optional=True)
    """Boost on an intake valve head, back pressure on an exhaust one, above the cylinder's."""

    valve_head_diameter: Mapped[Quantity | None] = quantity("valve_head_diameter", optional=True)
    spring_rate: Mapped[Quantity | None] = quantity("spring_rate", optional=True)
    installed_height: Mapped[Quantity | None] = quantity("installed_height", optional=True)
    coil_bind_height: Mapped[Quantity | None] = quantity("coil_bind_height", optional=True)
    valve_lift: Mapped[Quantity | None] = quantity("valve_lift", optional=True)

    note: Mapped[HandOffNote] = relationship(back_populates="valves")


class HandOffFigure(Base):
    """Any other figure for the assembler, with how it was come by."""

    __tablename__ = "hand_off_figure"
    __table_args__ = (UniqueConstraint("note_id", "position"),)

    id: Mapped[Id]
    note_id: Mapped[int] = mapped_column(ForeignKey("hand_off_note.id"))
    position: Mapped[int]
    name: Mapped[Name]
    value: Mapped[Name]
    working: Mapped[Words]

    note: Mapped[HandOffNote] = relationship(back_populates="figures")
