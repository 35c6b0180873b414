"""Springs."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow import models
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class SpringPoint:
    """The load at one height; measured on a tester, or taken from a list."""

    height: Quantity
    load: Quantity
    measured: bool


@dataclass(frozen=True)
class Spring:
    """The springs of one side of a head's visit, or usual on an engine type."""

    id: int
    engine_id: int | None
    tag: str | None
    side: str
    name: str
    points: list[SpringPoint]
    coil_bind_height: Quantity | None
    wanted_height: Quantity | None
    least_bind_room: Quantity | None
    least_retainer_room: Quantity | None
    valve_lift: Quantity | None
    lobe_lift: Quantity | None
    rocker_ratio: Decimal | None
    lash: Quantity | None
    notes: str

    @classmethod
    def of(cls, row: models.Spring) -> Spring:
        """Springs on record."""
        return cls(
            id=row.id,
            engine_id=row.engine_type_id,
            tag=row.job_head.tag if row.job_head else None,
            side=row.side,
            name=row.name,
            points=[
                SpringPoint(
                    Quantity.of(point.height),
                    Quantity.of(point.load),
                    point.measured,
                )
                for point in row.points
            ],
            coil_bind_height=Quantity.of(row.coil_bind_height),
            wanted_height=Quantity.of(row.wanted_height),
            least_bind_room=Quantity.of(row.least_bind_room),
            least_retainer_room=Quantity.of(row.least_retainer_room),
            valve_lift=Quantity.of(row.valve_lift),
            lobe_lift=Quantity.of(row.lobe_lift),
            rocker_ratio=row.rocker_ratio,
            lash=Quantity.of(row.lash),
            notes=row.notes,
        )
