"""Usual values of an engine type's heads: what forms and calculations start from."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Versioned, quantity
from shopflow.models.measurement import MeasurementKind
from shopflow.units import Quantity


class UsualValue(Versioned, Base):
    """Usual value of a kind of measurement on an engine type's heads, by the shop or a manual.

    It holds on one side or both, for one valve of a cylinder's side or all of them.
    """

    __tablename__ = "usual_value"
    __table_args__ = (
        UniqueConstraint("engine_type_id", "kind_id", "side", "valve"),
        CheckConstraint("side IN ('', 'intake', 'exhaust')", name="side"),
        CheckConstraint("valve >= 0 AND (valve = 0 OR side <> '')", name="valve_of_a_side"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    kind_id: Mapped[int] = mapped_column(ForeignKey("measurement_kind.id"), index=True)
    side: Mapped[str] = mapped_column(String(10), default="")
    """Empty where it holds for both; a side's own goes before it."""

    valve: Mapped[int] = mapped_column(default=0)
    """Number of the valve on its side, from 1; 0 for all of them. A valve's own goes first."""

    value: Mapped[Quantity] = quantity("value")
    source: Mapped[Line]
    """Origin of the value, as "service manual, page 12"."""

    kind: Mapped[MeasurementKind] = relationship(lazy="joined", innerjoin=True)
