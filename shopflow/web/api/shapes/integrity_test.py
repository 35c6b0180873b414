"""Results of pressure, vacuum, leak and crack tests."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class IntegrityTest:
    """A test of one place, as typed; withdrawn ones say so and count nowhere."""

    id: int
    tag: str
    kind: models.IntegrityKind
    part: models.IntegrityPart
    cylinder: int | None
    side: str
    valve: int | None
    place: str
    """The part in words; empty for the whole head."""

    spot: str
    method: str
    medium: str
    pressure: Quantity | None
    duration: Quantity | None
    drop: Quantity | None
    volume: Quantity | None
    temperature: Quantity | None
    verdict: models.IntegrityVerdict
    limits: str
    notes: str
    photo_id: int | None
    at: datetime
    withdrawn_at: datetime | None

    @classmethod
    def of(cls, row: models.IntegrityTest) -> IntegrityTest:
        """A test on record."""
        return cls(
            id=row.id,
            tag=row.job_head.tag,
            kind=row.kind,
            part=row.part,
            cylinder=row.cylinder,
            side=row.side,
            valve=row.valve,
            place=row.where,
            spot=row.spot,
            method=row.method,
            medium=row.medium,
            pressure=Quantity.of(row.pressure),
            duration=Quantity.of(row.duration),
            drop=Quantity.of(row.drop),
            volume=Quantity.of(row.volume),
            temperature=Quantity.of(row.temperature),
            verdict=row.verdict,
            limits=row.limits,
            notes=row.notes,
            photo_id=row.photo_id,
            at=row.at,
            withdrawn_at=row.withdrawn_at,
        )
