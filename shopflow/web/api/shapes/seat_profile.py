"""Seat profiles."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models
from shopflow.services.measuring import seat_entry
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class SeatCut:
    """One cut as typed, and the sizes in m that follow from all cuts of its seat."""

    position: int
    angle: Quantity | None
    width: Quantity | None
    outer_diameter: Quantity | None
    blend_radius: Quantity | None
    tool: str
    is_contact: bool
    width_m: float
    outer_diameter_m: float
    inner_diameter_m: float
    depth_m: float


@dataclass(frozen=True)
class SeatProfile:
    """Cuts of a seat from the chamber to the throat, with its valve; no tag for a usual profile."""

    id: int
    tag: str | None
    engine_id: int | None
    cylinder: int | None
    side: str
    valve: int | None
    place: str
    taken: models.When
    head_diameter: Quantity | None
    margin: Quantity | None
    throat_diameter: Quantity | None
    contact_position: Quantity | None
    contact_mean_diameter_m: float
    notes: str
    at: datetime
    cuts: list[SeatCut]

    @classmethod
    def of(cls, row: models.SeatProfile) -> SeatProfile:
        """A profile on record."""
        seat, place = seat_entry.seat_of(row), row.head_place
        return cls(
            id=row.id,
            tag=row.job_head.tag if row.job_head else None,
            engine_id=row.engine_type_id,
            cylinder=row.cylinder,
            side=row.side,
            valve=row.valve,
            place=place.label if place else "",
            taken=row.when,
            head_diameter=Quantity.of(row.head_diameter),
            margin=Quantity.of(row.margin),
            throat_diameter=Quantity.of(row.throat_diameter),
            contact_position=Quantity.of(row.contact_position),
            contact_mean_diameter_m=seat.contact_mean_diameter,
            notes=row.notes,
            at=row.at,
            cuts=[
                SeatCut(
                    position=cut.position,
                    angle=Quantity.of(cut.angle),
                    width=Quantity.of(cut.width),
                    outer_diameter=Quantity.of(cut.outer_diameter),
                    blend_radius=Quantity.of(cut.blend_radius),
                    tool=cut.tool,
                    is_contact=cut.is_contact,
                    width_m=face.width,
                    outer_diameter_m=face.outer_diameter,
                    inner_diameter_m=face.inner_diameter,
                    depth_m=face.depth,
                )
                for cut, face in zip(row.cuts, seat.faces, strict=True)
            ],
        )
