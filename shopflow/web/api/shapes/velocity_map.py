"""Velocity maps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from shopflow import models
from shopflow.services.bench import velocity_maps
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class VelocityMap:
    """A section of a port traversed with a pitot probe, beside a flow test.

    `pressures` are the probe's differences as typed, in `pressure_unit`, `velocities` what they
    come to: a list a ring, from the middle outwards, of a number an arm.
    """

    id: int
    tag: str
    session_id: int
    lift: Quantity
    place: str
    outline: models.Outline
    width: Quantity
    height: Quantity
    arms: int
    rings: int
    pressure_unit: str
    middle: str
    pressures: list[list[str]]
    coefficient: str
    notes: str
    entered_at: datetime
    middle_velocity: Annotated[float, "m/s"]
    velocities: list[list[float]]
    mean_velocity: Annotated[float, "m/s"]
    flow: Annotated[float, "m3/s"]
    bench_flow: Annotated[float, "m3/s"]

    @classmethod
    def of(cls, row: models.VelocityMap) -> VelocityMap:
        """A map on record, with its results."""
        worked_out = velocity_maps.mapped(row)
        results = worked_out.results
        return cls(
            id=row.id,
            tag=row.session.job_head.tag,
            session_id=row.session_id,
            lift=Quantity.of(row.lift),
            place=row.place,
            outline=row.outline,
            width=Quantity.of(row.width),
            height=Quantity.of(row.height),
            arms=row.arms,
            rings=row.rings,
            pressure_unit=row.pressure_unit,
            middle=str(row.middle),
            pressures=row.pressures,
            coefficient=str(row.coefficient),
            notes=row.notes,
            entered_at=row.entered_at,
            middle_velocity=float(results.middle),
            velocities=results.velocities.tolist(),
            mean_velocity=float(results.mean_velocity),
            flow=float(results.flow),
            bench_flow=float(worked_out.bench_flow),
        )
