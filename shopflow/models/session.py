"""Bench sessions: one flow test of one port, every reading kept as typed beside its SI value."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import (
    CheckConstraint,
    ColumnElement,
    ForeignKey,
    Index,
    String,
    UniqueConstraint,
)
from sqlalchemy.ext.hybrid import hybrid_property
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Decimals,
    DecimalText,
    Id,
    Line,
    Moment,
    Stated,
    Unit,
    UtcDateTime,
    Versioned,
    Words,
    choice,
    quantity,
)
from shopflow.models.bench import ReadingKind
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.bench import Calibration
    from shopflow.models.job import Visit
    from shopflow.models.operation import Operation
    from shopflow.models.person import User
    from shopflow.models.set_up_confirmation import SetUpConfirmation


class BenchSession(Versioned, Base):
    """A flow test; its columns carry the keys of the session file, see shopflow.sessionfile."""

    __tablename__ = "bench_session"
    __table_args__ = (
        CheckConstraint("side IN ('intake', 'exhaust')", name="side"),
        CheckConstraint("barometer_si > 0", name="barometer_positive"),
        CheckConstraint("temperature_si > 0", name="temperature_positive"),
        CheckConstraint("humidity_si >= 0 AND humidity_si <= 1", name="humidity_in_range"),
        CheckConstraint("head_diameter_si > 0", name="head_diameter_positive"),
        CheckConstraint("valve_count >= 1", name="valves_counted"),
        CheckConstraint("test_pressure_si > 0", name="test_pressure_positive"),
        CheckConstraint("reference_pressure_si > 0", name="reference_pressure_positive"),
        CheckConstraint("leakage_si >= 0", name="leakage_not_negative"),
        CheckConstraint(
            "(seat_angle_si IS NULL) = (seat_width_si IS NULL)"
            " AND (seat_angle_si IS NULL) = (stem_diameter_si IS NULL)"
            " AND (seat_angle_si IS NULL) = (throat_diameter_si IS NULL)",
            name="seat_whole_or_absent",
        ),
        CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawal_reason = '')", name="withdrawal_has_reason"
        ),
        CheckConstraint(
            "replaced_by_id IS NULL OR withdrawn_at IS NOT NULL", name="replaced_is_withdrawn"
        ),
        Index(None, "job_head_id", "side"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"))
    after_operation_id: Mapped[int | None] = mapped_column(ForeignKey("operation.id"), index=True)
    """The operation it followed; none for a test as received."""

    calibration_id: Mapped[int | None] = mapped_column(ForeignKey("calibration.id"), index=True)
    entered_at: Mapped[Moment]
    entered_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    title: Mapped[Line]
    stage: Mapped[Line]
    engine_type: Mapped[Line]
    head: Mapped[Line]
    cylinder: Mapped[Line]
    operator: Mapped[Line]
    notes: Mapped[Words]
    measured_at_typed: Mapped[str] = mapped_column(String(40), default="")
    measured_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """The same moment, where it was typed with its zone or the shop's zone was taken for it."""

    side: Mapped[str] = mapped_column(String(10))

    barometer: Mapped[Quantity] = quantity("barometer")
    temperature: Mapped[Quantity] = quantity("temperature")
    humidity: Mapped[Quantity] = quantity("humidity")
    altitude: Mapped[Quantity | None] = quantity("altitude", optional=True)
    """Of the shop above sea level: it guards the barometer."""

    head_diameter: Mapped[Quantity] = quantity("head_diameter")
    valve_count: Mapped[int] = mapped_column(default=1)
    stem_diameter: Mapped[Quantity | None] = quantity("stem_diameter", optional=True)
    seat_angle: Mapped[Quantity | None] = quantity("seat_angle", optional=True)
    seat_width: Mapped[Quantity | None] = quantity("seat_width", optional=True)
    throat_diameter: Mapped[Quantity | None] = quantity("throat_diameter", optional=True)
    port_area: Mapped[Quantity | None] = quantity("port_area", optional=True)

    bench_name: Mapped[Line]
    calibration_mark: Mapped[Line]
    """calibration_id of the session file: text, which need not be one of this shop's own."""

    gauge_mark: Mapped[Line]
    """gauge_id of the session file: the gauge that the test pressure was read from."""

    test_pressure: Mapped[Quantity] = quantity("test_pressure")
    reference_pressure: Mapped[Quantity] = quantity("reference_pressure")
    calibration_factor: Mapped[Decimal] = mapped_column(DecimalText)
    calibration_model: Mapped[str] = mapped_column(String(30), default="", server_default="")
    calibration_reading_unit: Mapped[Unit]
    calibration_readings: Mapped[Decimals]
    calibration_flow_unit: Mapped[Unit]
    calibration_flows: Mapped[Decimals]
    calibration_uncertainties: Mapped[Decimals]
    leakage: Mapped[Quantity] = quantity("leakage")
    leakage_pressure: Mapped[Quantity | None] = quantity("leakage_pressure", optional=True)
    reading_kind: Mapped[ReadingKind] = mapped_column(choice(ReadingKind))
    range: Mapped[Quantity | None] = quantity("range", optional=True)
    meter_kind: Mapped[Line]
    meter_temperature: Mapped[Quantity | None] = quantity("meter_temperature", optional=True)
    meter_pressure: Mapped[Quantity | None] = quantity("meter_pressure", optional=True)
    scale_density: Mapped[Quantity | None] = quantity("scale_density", optional=True)
    element_kind: Mapped[Line]
    element_diameter: Mapped[Quantity | None] = quantity("element_diameter", optional=True)
    pipe_diameter: Mapped[Quantity | None] = quantity("pipe_diameter", optional=True)
    element_coefficient: Mapped[Decimal | None] = mapped_column(DecimalText)
    element_area: Mapped[Quantity | None] = quantity("element_area", optional=True)

    set_up_sleeve: Mapped[Stated]
    """Set-up part by part: a fixture, "none", or empty where it is not stated."""

    set_up_inlet: Mapped[Stated]
    set_up_stub: Mapped[Stated]
    set_up_manifold: Mapped[Stated]
    set_up_carburetor: Mapped[Stated]
    set_up_header: Mapped[Stated]
    set_up_spark_plug: Mapped[Stated]
    set_up_guide: Mapped[Stated]

    u_calibration: Mapped[Quantity | None] = quantity("u_calibration", optional=True)
    """An uncertainty that is not there is unknown."""

    u_repeatability: Mapped[Quantity | None] = quantity("u_repeatability", optional=True)
    u_pressure: Mapped[Quantity | None] = quantity("u_pressure", optional=True)
    u_lift: Mapped[Quantity | None] = quantity("u_lift", optional=True)
    u_resolution: Mapped[Quantity | None] = quantity("u_resolution", optional=True)
    u_leakage: Mapped[Quantity | None] = quantity("u_leakage", optional=True)
    u_density: Mapped[Quantity | None] = quantity("u_density", optional=True)
    u_day: Mapped[Quantity | None] = quantity("u_day", optional=True)
    u_head_diameter: Mapped[Quantity | None] = quantity("u_head_diameter", optional=True)
    u_stem_diameter: Mapped[Quantity | None] = quantity("u_stem_diameter", optional=True)
    u_seat_angle: Mapped[Quantity | None] = quantity("u_seat_angle", optional=True)
    u_seat_width: Mapped[Quantity | None] = quantity("u_seat_width", optional=True)
    u_throat_diameter: Mapped[Quantity | None] = quantity("u_throat_diameter", optional=True)
    u_port_area: Mapped[Quantity | None] = quantity("u_port_area", optional=True)

    lift_unit: Mapped[str] = mapped_column(String(10))
    flow_unit: Mapped[str] = mapped_column(String(10))
    pressure_unit: Mapped[str] = mapped_column(String(10), default="")
    """Of the runs' own pressures, where they have any."""

    entry_key: Mapped[str | None] = mapped_column(String(40), unique=True)
    """The entry it was typed in, so that sending it twice stores it once."""

    position: Mapped[int]
    """Its place among the head's sessions on this job, in the order they were measured."""

    mean_area: Mapped[float]
    """Mean effective area over its own lifts, m2, stored for look-up; every verb that touches
    readings renews it."""

    peak_area: Mapped[float]
    gain_over_first: Mapped[float | None]
    """Relative gain in mean effective area over the first test of its port, 0.05 for 5 %."""

    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    withdrawal_reason: Mapped[str] = mapped_column(String(200), default="", server_default="")
    replaced_by_id: Mapped[int | None] = mapped_column(ForeignKey("bench_session.id"), index=True)
    """The corrected test that replaces it, where it was withdrawn by a correction."""

    job_head: Mapped[Visit] = relationship(back_populates="sessions")
    after_operation: Mapped[Operation | None] = relationship()
    calibration: Mapped[Calibration | None] = relationship()
    entered_by: Mapped[User | None] = relationship(foreign_keys=[entered_by_id])
    withdrawn_by: Mapped[User | None] = relationship(foreign_keys=[withdrawn_by_id])
    replaced_by: Mapped[BenchSession | None] = relationship(remote_side="BenchSession.id")
    lifts: Mapped[list[SessionLift]] = relationship(
        back_populates="session", cascade="all, delete-orphan", order_by="SessionLift.position"
    )

    set_up_confirmations: Mapped[list[SetUpConfirmation]] = relationship(
        back_populates="session",
        foreign_keys="SetUpConfirmation.session_id",
        order_by="SetUpConfirmation.id",
    )

    @hybrid_property
    def counts(self) -> bool:
        """The one rule of what a flow test counts in: a withdrawn one counts nowhere.

        `Visit.sessions` holds those that count; every query over flow tests asks it.
        """
        return self.withdrawn_at is None

    @counts.inplace.expression
    @classmethod
    def _counts(cls) -> ColumnElement[bool]:
        return cls.withdrawn_at.is_(None)


class SessionLift(Base):
    """One lift of a session."""

    __tablename__ = "session_lift"
    __table_args__ = (
        UniqueConstraint("session_id", "position"),
        CheckConstraint("lift_si > 0", name="lift_positive"),
    )

    id: Mapped[Id]
    session_id: Mapped[int] = mapped_column(ForeignKey("bench_session.id"))
    position: Mapped[int]
    lift_typed: Mapped[Decimal] = mapped_column(DecimalText)
    lift_si: Mapped[float]

    session: Mapped[BenchSession] = relationship(back_populates="lifts")
    readings: Mapped[list[Reading]] = relationship(
        back_populates="lift",
        cascade="all, delete-orphan",
        order_by="Reading.run",
        lazy="selectin",
    )


class Reading(Base):
    """One run at one lift. An excluded one stays, with the reason."""

    __tablename__ = "reading"
    __table_args__ = (
        UniqueConstraint("session_lift_id", "run"),
        CheckConstraint("flow_si >= 0", name="flow_not_negative"),
        CheckConstraint("pressure_si > 0", name="pressure_positive"),
        CheckConstraint("(excluded_because = '') = (NOT excluded)", name="exclusion_has_reason"),
    )

    id: Mapped[Id]
    session_lift_id: Mapped[int] = mapped_column(ForeignKey("session_lift.id"))
    run: Mapped[int]
    flow_typed: Mapped[Decimal] = mapped_column(DecimalText)
    flow_si: Mapped[float]
    """Indicated flow in m3/s, before any correction."""

    pressure_typed: Mapped[Decimal | None] = mapped_column(DecimalText)
    pressure_si: Mapped[float | None]
    """Across the head at this run, where the bench could not hold the test pressure."""

    excluded: Mapped[bool] = mapped_column(default=False)
    excluded_because: Mapped[Line]

    lift: Mapped[SessionLift] = relationship(back_populates="readings")
