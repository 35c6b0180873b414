"""Cams: an engine's lobes and valve train, by engine type or of one job."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    DecimalText,
    Id,
    Name,
    UtcDateTime,
    Versioned,
    Words,
    quantity,
)
from shopflow.models.engine_type import EngineType
from shopflow.models.job import Job
from shopflow.texts import gettext
from shopflow.units import Quantity


class Cam(Versioned, Base):
    """A cam as typed, of an engine type or of one job, with the engine it turns in."""

    __tablename__ = "cam"
    __table_args__ = (
        CheckConstraint("(engine_type_id IS NULL) <> (job_id IS NULL)", name="of_one"),
        CheckConstraint("bore_si > 0", name="bore_positive"),
        CheckConstraint("stroke_si > 0", name="stroke_positive"),
        CheckConstraint("speed_si > 0", name="speed_positive"),
        CheckConstraint("intake_lash_si >= 0", name="intake_lash_not_negative"),
        CheckConstraint("exhaust_lash_si >= 0", name="exhaust_lash_not_negative"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"), index=True)
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)
    name: Mapped[Name]
    notes: Mapped[Words]
    archived_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    bore: Mapped[Quantity] = quantity("bore")
    stroke: Mapped[Quantity] = quantity("stroke")
    rod_length: Mapped[Quantity | None] = quantity("rod_length", optional=True)
    speed: Mapped[Quantity] = quantity("speed")
    compression_ratio: Mapped[Decimal | None] = mapped_column(DecimalText)
    intake_pressure: Mapped[Quantity | None] = quantity("intake_pressure", optional=True)
    exhaust_pressure: Mapped[Quantity | None] = quantity("exhaust_pressure", optional=True)
    intake_temperature: Mapped[Quantity | None] = quantity("intake_temperature", optional=True)

    intake_centreline: Mapped[Quantity] = quantity("intake_centreline")
    intake_angles: Mapped[list[str]] = mapped_column(JSON, default=list)
    """Crank degrees from the centreline as typed, and the lobe lifts there; empty for the
    stand-in of `intake_duration` and `intake_max_lobe_lift`."""

    intake_lifts: Mapped[list[str]] = mapped_column(JSON, default=list)
    intake_lift_unit: Mapped[str] = mapped_column(String(10), default="")
    intake_duration: Mapped[Quantity | None] = quantity("intake_duration", optional=True)
    intake_max_lobe_lift: Mapped[Quantity | None] = quantity("intake_max_lobe_lift", optional=True)
    intake_rocker_ratio: Mapped[Decimal] = mapped_column(DecimalText)
    intake_lash: Mapped[Quantity] = quantity("intake_lash")

    exhaust_centreline: Mapped[Quantity | None] = quantity("exhaust_centreline", optional=True)
    """None where the exhaust's lobe is not known."""

    exhaust_angles: Mapped[list[str]] = mapped_column(JSON, default=list)
    exhaust_lifts: Mapped[list[str]] = mapped_column(JSON, default=list)
    exhaust_lift_unit: Mapped[str] = mapped_column(String(10), default="")
    exhaust_duration: Mapped[Quantity | None] = quantity("exhaust_duration", optional=True)
    exhaust_max_lobe_lift: Mapped[Quantity | None] = quantity(
        "exhaust_max_lobe_lift", optional=True
    )
    exhaust_rocker_ratio: Mapped[Decimal | None] = mapped_column(DecimalText)
    exhaust_lash: Mapped[Quantity | None] = quantity("exhaust_lash", optional=True)

    engine_type: Mapped[EngineType | None] = relationship()
    job: Mapped[Job | None] = relationship()

    @property
    def owner(self) -> EngineType | Job:
        """The engine type or job it is a cam of."""
        owner = self.engine_type or self.job
        if owner is None:
            raise ValueError(gettext("a cam is of an engine type or of a job"))
        return owner
