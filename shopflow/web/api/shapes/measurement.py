"""Measurements."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class Measurement:
    """A measurement that counts, with its place on the head, its limits and its verdict."""

    id: int
    tag: str
    kind: str
    name: str
    place: str
    place_kind: models.PlaceKind
    cylinder: int | None
    side: str
    valve: int | None
    taken: models.When
    value: Quantity | None
    lower: Quantity | None
    upper: Quantity | None
    verdict: models.Verdict
    calculated: bool
    at: datetime

    @classmethod
    def of(cls, row: models.Measurement) -> Measurement:
        """A measurement on record."""
        return cls(
            id=row.id,
            tag=row.job_head.tag,
            kind=row.kind.code,
            name=row.kind.name,
            place=row.where,
            place_kind=row.kind.place_kind,
            cylinder=row.cylinder,
            side=row.side,
            valve=row.valve,
            taken=row.when,
            value=Quantity.of(row.value),
            lower=Quantity.of(row.lower),
            upper=Quantity.of(row.upper),
            verdict=row.verdict,
            calculated=row.calculated,
            at=row.at,
        )
