"""Limits of pressure, vacuum and leak tests by engine type."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Line, Versioned, choice, quantity
from shopflow.models.integrity_test import IntegrityKind
from shopflow.texts import gettext
from shopflow.units import Quantity


class IntegrityLimit(Versioned, Base):
    """Bounds of a kind of test on an engine type's heads, on one side or both."""

    __tablename__ = "integrity_limit"
    __table_args__ = (
        UniqueConstraint("engine_type_id", "kind", "side"),
        CheckConstraint("side IN ('', 'intake', 'exhaust')", name="side"),
        CheckConstraint(
            "least_pressure_si IS NOT NULL OR most_drop_si IS NOT NULL", name="limits_something"
        ),
        CheckConstraint("least_pressure_si > 0", name="pressure_positive"),
        CheckConstraint("most_drop_si >= 0", name="drop_not_negative"),
        CheckConstraint("least_duration_si > 0", name="duration_positive"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    kind: Mapped[IntegrityKind] = mapped_column(choice(IntegrityKind))
    side: Mapped[str] = mapped_column(String(10), default="")
    """Empty where it holds for both; a side's own goes before it."""

    least_pressure: Mapped[Quantity | None] = quantity("least_pressure", optional=True)
    """The vacuum a vacuum test must reach, or the pressure a test must be made at."""

    most_drop: Mapped[Quantity | None] = quantity("most_drop", optional=True)
    least_duration: Mapped[Quantity | None] = quantity("least_duration", optional=True)
    source: Mapped[Line]
    """Source of the limit, as "service manual, page 12"."""

    @property
    def in_words(self) -> str:
        """The limit, as "from 20 inHg, drop to 1 inHg, held 30 s"."""
        parts = [
            gettext("from {least_pressure}", least_pressure=self.least_pressure)
            if self.least_pressure
            else "",
            gettext("drop to {most_drop}", most_drop=self.most_drop) if self.most_drop else "",
            gettext("held {least_duration}", least_duration=self.least_duration)
            if self.least_duration
            else "",
        ]
        return ", ".join(filter(None, parts))
