"""Cams."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import camfile, models
from shopflow.services.engine import cams
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class Cam:
    """A cam of an engine type or of a job; its lobes stand in its file."""

    id: int
    engine_id: int | None
    job: str | None
    name: str
    notes: str
    archived_at: datetime | None
    bore: Quantity
    stroke: Quantity
    speed: Quantity
    file: str

    @classmethod
    def of(cls, row: models.Cam) -> Cam:
        """A saved cam."""
        return cls(
            id=row.id,
            engine_id=row.engine_type_id,
            job=row.job.number if row.job else None,
            name=row.name,
            notes=row.notes,
            archived_at=row.archived_at,
            bore=Quantity.of(row.bore),
            stroke=Quantity.of(row.stroke),
            speed=Quantity.of(row.speed),
            file=camfile.dumps(cams.document(row)),
        )
