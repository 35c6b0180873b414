"""Shims under springs: each valve's measured height against the usual one, summed to pick."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.calc import fits
from shopflow.models import Measurement, PlaceKind, Visit, When
from shopflow.services.measuring import usual_values
from shopflow.units import Quantity, from_si

HEIGHT = "installed height"
STEPS = {"in": Decimal("0.005"), "mm": Decimal("0.1")}
"""Steps that shims come in, by unit. Common practice, no source."""


@dataclass(frozen=True)
class Shim:
    """Shims of one valve: its height as measured, the one wanted, and the thickness between."""

    label: str
    measured: Quantity
    wanted: Quantity
    thickness: Decimal
    over: Decimal
    """Height over the one wanted, in the unit of the wanted; below 0 where it stands too low."""

    @property
    def is_low(self) -> bool:
        """True where the spring stands lower than wanted, which no shim corrects."""
        return self.over < 0

    @property
    def text(self) -> str:
        """Thickness with its unit, as "0.020 in"."""
        return f"{self.thickness} {self.wanted.unit}"


def of_head(db: Session, visit: Visit) -> list[Shim]:
    """Shims of every valve with a measured and a usual height, in the head's order."""
    plan = visit.head.plan
    if plan is None:
        return []
    heights = _heights(visit)
    usual = {
        (row.side, row.valve): row.value
        for row in usual_values.of_engine_type(db, visit.head.engine_type)
        if row.kind.code == HEIGHT and row.value.unit in STEPS
    }
    shims = []
    for place in plan.places(PlaceKind.SPRING):
        keys = ((place.side, place.valve or 0), (place.side, 0), ("", 0))
        wanted = next((usual[key] for key in keys if key in usual), None)
        if wanted is not None and place.key in heights:
            shims.append(_shim(place.label, heights[place.key].value, wanted))
    return shims


def to_pick(shims: Sequence[Shim]) -> list[tuple[int, str]]:
    """Count of each thickness, the thinnest first."""
    counted = Counter((shim.wanted.unit, shim.thickness) for shim in shims if shim.thickness)
    return [(count, f"{size} {unit}") for (unit, size), count in sorted(counted.items())]


def worst(shims: Sequence[Shim]) -> Shim | None:
    """Valve whose spring stands furthest from the height wanted."""
    return max(shims, key=lambda shim: abs(shim.over), default=None)


def _heights(visit: Visit) -> dict[tuple[int | None, str, int | None], Measurement]:
    """The last height of each valve, one after the work before one from before it."""
    plan = visit.head.plan
    found: dict[tuple[int | None, str, int | None], Measurement] = {}
    rows = [row for row in visit.measurements if row.kind.code == HEIGHT and not row.place]
    for row in sorted(rows, key=lambda row: row.when is When.AFTER):
        place = row.place_in(plan) if plan else None
        if place is not None:
            found[place.key] = row
    return found


def _shim(label: str, measured: Quantity, wanted: Quantity) -> Shim:
    unit = wanted.unit
    if measured.unit == unit:
        height = Decimal(measured.number)
    else:
        height = Decimal(f"{from_si(measured.si, unit):.4f}")
    target = Decimal(wanted.number)
    thickness = fits.shims(height, target, STEPS[unit])
    return Shim(label, measured, wanted, thickness, height - target)
