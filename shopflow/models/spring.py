"""Valve springs as loads by height: of a side of one head, or usual on an engine type's heads."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, DecimalText, Id, Line, Versioned, Words, quantity
from shopflow.models.engine_type import EngineType
from shopflow.models.job import Visit
from shopflow.texts import gettext
from shopflow.units import Quantity


class Spring(Versioned, Base):
    """The set of springs of one side, alike on each of its valves."""

    __tablename__ = "spring"
    __table_args__ = (
        UniqueConstraint("engine_type_id", "side"),
        UniqueConstraint("job_head_id", "side"),
        CheckConstraint("(engine_type_id IS NULL) <> (job_head_id IS NULL)", name="of_one"),
        CheckConstraint("side IN ('intake', 'exhaust')", name="side"),
        CheckConstraint("coil_bind_height_si > 0", name="coil_bind_positive"),
        CheckConstraint("wanted_height_si > 0", name="wanted_height_positive"),
        CheckConstraint("least_bind_room_si >= 0", name="bind_room_not_negative"),
        CheckConstraint("least_retainer_room_si >= 0", name="retainer_room_not_negative"),
        CheckConstraint("valve_lift_si > 0", name="valve_lift_positive"),
        CheckConstraint("lobe_lift_si > 0", name="lobe_lift_positive"),
        CheckConstraint("lash_si >= 0", name="lash_not_negative"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"))
    job_head_id: Mapped[int | None] = mapped_column(ForeignKey("job_head.id"))
    side: Mapped[str] = mapped_column(String(10))
    name: Mapped[Line]
    """Name the shop has for the spring, as "dual, orange stripe"."""

    coil_bind_height: Mapped[Quantity | None] = quantity("coil_bind_height", optional=True)
    wanted_height: Mapped[Quantity | None] = quantity("wanted_height", optional=True)
    """Installed height to shim to."""

    least_bind_room: Mapped[Quantity | None] = quantity("least_bind_room", optional=True)
    least_retainer_room: Mapped[Quantity | None] = quantity("least_retainer_room", optional=True)
    """Room wanted at full lift to coil bind, and between retainer and guide."""

    valve_lift: Mapped[Quantity | None] = quantity("valve_lift", optional=True)
    """At the valve before lash is taken off, where it is not known by its lobe."""

    lobe_lift: Mapped[Quantity | None] = quantity("lobe_lift", optional=True)
    rocker_ratio: Mapped[Decimal | None] = mapped_column(DecimalText)
    lash: Mapped[Quantity | None] = quantity("lash", optional=True)
    notes: Mapped[Words]

    engine_type: Mapped[EngineType | None] = relationship()
    job_head: Mapped[Visit | None] = relationship(back_populates="springs")
    points: Mapped[list[SpringPoint]] = relationship(
        back_populates="spring",
        cascade="all, delete-orphan",
        order_by="SpringPoint.height_si.desc()",
        lazy="selectin",
    )

    @property
    def owner(self) -> EngineType | Visit:
        """The engine type or the visit whose spring it is."""
        owner = self.engine_type or self.job_head
        if owner is None:
            raise ValueError(gettext("a spring is of an engine type or of a visit"))
        return owner


class SpringPoint(Base):
    """A spring's load at one height."""

    __tablename__ = "spring_point"
    __table_args__ = (
        UniqueConstraint("spring_id", "height_si"),
        CheckConstraint("height_si > 0", name="height_positive"),
        CheckConstraint("load_si >= 0", name="load_not_negative"),
    )

    id: Mapped[Id]
    spring_id: Mapped[int] = mapped_column(ForeignKey("spring.id"), index=True)
    height: Mapped[Quantity] = quantity("height")
    load: Mapped[Quantity] = quantity("load")
    measured: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where it was measured on a tester, not taken from a list or a manual."""

    spring: Mapped[Spring] = relationship(back_populates="points")
