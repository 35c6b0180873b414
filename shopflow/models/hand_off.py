"""Hand-off notes: what the assembler is told about a head."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    DecimalText,
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
    from shopflow.models.job import Visit
    from shopflow.models.person import User


class HandOffNote(Versioned, Base):
    """The note that goes on with one head."""

    __tablename__ = "hand_off_note"
    __table_args__ = (
        CheckConstraint("(signed_at IS NULL) = (signed_by_id IS NULL)", name="signed_by_someone"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), unique=True)
    addressee: Mapped[Line]
    """Person who will assemble the engine."""

    to_check: Mapped[Words]
    """Points the assembler must check before first start, one per line."""

    cautions: Mapped[Words]
    """The porter's own, one per line, beside the usual ones."""

    notes: Mapped[Words]
    written_at: Mapped[Moment]
    signed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    signed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship(back_populates="hand_off")
    signed_by: Mapped[User | None] = relationship()
    valves: Mapped[list[ValveSetUp]] = relationship(
        back_populates="note",
        cascade="all, delete-orphan",
        order_by="ValveSetUp.side.desc()",
        lazy="selectin",
    )
    engine: Mapped[EngineSetUp | None] = relationship(
        back_populates="note", cascade="all, delete-orphan", lazy="selectin"
    )
    figures: Mapped[list[HandOffFigure]] = relationship(
        back_populates="note",
        cascade="all, delete-orphan",
        order_by="HandOffFigure.position",
        lazy="selectin",
    )

    @property
    def has_figures(self) -> bool:
        """True where the note gives the assembler at least one value."""
        return bool(any(valve.has_figures for valve in self.valves) or self.figures or self.engine)


class ValveSetUp(Base):
    """Springs and seats of one side, from which the seat load is calculated."""

    __tablename__ = "valve_set_up"
    __table_args__ = (
        UniqueConstraint("note_id", "side"),
        CheckConstraint("side IN ('intake', 'exhaust')", name="side"),
        CheckConstraint("base_seat_load_si >= 0", name="seat_load_not_negative"),
        CheckConstraint("spring_rate_si > 0", name="spring_rate_positive"),
        CheckConstraint("installed_height_si > 0", name="installed_height_positive"),
        CheckConstraint("coil_bind_height_si > 0", name="coil_bind_positive"),
        CheckConstraint("installed_load_si >= 0", name="installed_load_not_negative"),
        CheckConstraint("retainer_to_guide_si >= 0", name="retainer_to_guide_not_negative"),
        CheckConstraint("valve_lift_si > 0", name="valve_lift_positive"),
        CheckConstraint("port_pressure_si >= 0", name="port_pressure_not_negative"),
        CheckConstraint("seat_angle_allowance_si >= 0", name="allowance_not_negative"),
        CheckConstraint("seat_angle_si > 0 AND seat_angle_si < 1.57", name="seat_angle"),
        CheckConstraint(
            "NOT (allowance_derived AND seat_angle_allowance_si IS NOT NULL)",
            name="allowance_one_way",
        ),
    )

    id: Mapped[Id]
    note_id: Mapped[int] = mapped_column(ForeignKey("hand_off_note.id"))
    side: Mapped[str] = mapped_column(String(10))
    base_seat_load: Mapped[Quantity | None] = quantity("base_seat_load", optional=True)
    """Load wanted on the seat before boost and seat angle are allowed for."""

    seat_angle_allowance: Mapped[Quantity | None] = quantity("seat_angle_allowance", optional=True)
    """Porter's own allowance for a shallower seat, where it is not derived from the angle."""

    seat_angle: Mapped[Quantity | None] = quantity("seat_angle", optional=True)
    allowance_derived: Mapped[bool] = mapped_column(default=False)
    """True where the allowance is calculated from seat angle and base load."""

    port_pressure: Mapped[Quantity | None] = quantity("port_pressure", optional=True)
    """Boost on an intake valve head, back pressure on an exhaust one, above the cylinder's."""

    valve_head_diameter: Mapped[Quantity | None] = quantity("valve_head_diameter", optional=True)
    spring_rate: Mapped[Quantity | None] = quantity("spring_rate", optional=True)
    installed_height: Mapped[Quantity | None] = quantity("installed_height", optional=True)
    coil_bind_height: Mapped[Quantity | None] = quantity("coil_bind_height", optional=True)
    valve_lift: Mapped[Quantity | None] = quantity("valve_lift", optional=True)
    installed_load: Mapped[Quantity | None] = quantity("installed_load", optional=True)
    """Measured load of the spring at its installed height."""

    retainer_to_guide: Mapped[Quantity | None] = quantity("retainer_to_guide", optional=True)
    """Between retainer and guide or its seal with the valve shut."""

    note: Mapped[HandOffNote] = relationship(back_populates="valves")

    @property
    def has_figures(self) -> bool:
        """True where it holds a value beyond those that the head's record and its job give
        already."""
        own = (
            self.base_seat_load, self.installed_load, self.spring_rate, self.installed_height,
            self.coil_bind_height, self.retainer_to_guide, self.seat_angle_allowance,
        )  # fmt: skip
        return any(value is not None for value in own)


class EngineSetUp(Base):
    """Engine builder's data, from which compression and gas results are calculated."""

    __tablename__ = "engine_set_up"
    __table_args__ = (
        CheckConstraint("gasket_bore_si > 0", name="gasket_bore_positive"),
        CheckConstraint("gasket_thickness_si > 0", name="gasket_thickness_positive"),
        CheckConstraint("chamber_footprint_si > 0", name="chamber_footprint_positive"),
        CheckConstraint("intake_temperature_si > 0", name="intake_temperature_positive"),
        CheckConstraint("exhaust_temperature_si > 0", name="exhaust_temperature_positive"),
        CheckConstraint("gas_flow_si > 0", name="gas_flow_positive"),
        CheckConstraint("turbine_outlet_pressure_si >= 0", name="turbine_outlet_not_negative"),
    )

    id: Mapped[Id]
    note_id: Mapped[int] = mapped_column(ForeignKey("hand_off_note.id"), unique=True)
    gasket_bore: Mapped[Quantity | None] = quantity("gasket_bore", optional=True)
    gasket_thickness: Mapped[Quantity | None] = quantity("gasket_thickness", optional=True)
    """Pressed."""

    deck_clearance: Mapped[Quantity | None] = quantity("deck_clearance", optional=True)
    """Of the piston below the deck; negative where it stands proud."""

    piston_dish: Mapped[Quantity | None] = quantity("piston_dish", optional=True)
    """Negative for a dome."""

    chamber_footprint: Mapped[Quantity | None] = quantity("chamber_footprint", optional=True)
    """The chamber's outline at the head's face, for what a cut takes from it."""

    intake_temperature: Mapped[Quantity | None] = quantity("intake_temperature", optional=True)
    exhaust_temperature: Mapped[Quantity | None] = quantity("exhaust_temperature", optional=True)
    """Of the gas before the turbine."""

    fuel_to_air: Mapped[Decimal | None] = mapped_column(DecimalText)
    gas_flow: Mapped[Quantity | None] = quantity("gas_flow", optional=True)
    """Mass flow of exhaust gas."""

    turbine_outlet_pressure: Mapped[Quantity | None] = quantity(
        "turbine_outlet_pressure", optional=True
    )
    """Gauge, as every pressure on the note."""

    air_pressure: Mapped[Quantity | None] = quantity("air_pressure", optional=True)
    """Absolute, of the air where the engine runs: what the gauge pressures are taken from."""

    note: Mapped[HandOffNote] = relationship(back_populates="engine")


class HandOffFigure(Base):
    """Any other figure for the assembler, with its source."""

    __tablename__ = "hand_off_figure"
    __table_args__ = (UniqueConstraint("note_id", "position"),)

    id: Mapped[Id]
    note_id: Mapped[int] = mapped_column(ForeignKey("hand_off_note.id"))
    position: Mapped[int]
    name: Mapped[Name]
    value: Mapped[Name]
    working: Mapped[Words]

    note: Mapped[HandOffNote] = relationship(back_populates="figures")
