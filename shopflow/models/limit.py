"""Limits of figures by engine type."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Versioned, quantity
from shopflow.models.measurement import MeasurementKind
from shopflow.units import Quantity


class EngineLimit(Versioned, Base):
    """Between what a kind of figure must be on an engine type's heads, on one side or both."""

    __tablename__ = "engine_limit"
    __table_args__ = (
        UniqueConstraint("engine_type_id", "kind_id", "side"),
        CheckConstraint("lower_si <= upper_si", name="limits_in_order"),
        CheckConstraint("lower_si IS NOT NULL OR upper_si IS NOT NULL", name="limits_something"),
        CheckConstraint("side IN ('', 'intake', 'exhaust')", name="side"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    kind_id: Mapped[int] = mapped_column(ForeignKey("measurement_kind.id"), index=True)
    side: Mapped[str] = mapped_column(String(10), default="")
    """Empty where it holds for both; a side's own goes before it."""

    lower: Mapped[Quantity | None] = quantity("lower", optional=True)
    upper: Mapped[Quantity | None] = quantity("upper", optional=True)
    source: Mapped[Line]
    """Source of the limit, as "service manual, page 12"."""

    kind: Mapped[MeasurementKind] = relationship(lazy="joined", innerjoin=True)
