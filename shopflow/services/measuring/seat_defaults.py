"""Values that the form of a seat profile starts from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import (
    EngineType,
    HeadPlace,
    HeadPlan,
    Measurement,
    SeatCut,
    SeatProfile,
    Visit,
    When,
)
from shopflow.services.measuring import seat_profiles, usual_values
from shopflow.services.measuring.seat_profiles import plan_of, profile_at, typed_values
from shopflow.units import Quantity

MEASURED = {
    "valve head diameter": "head_diameter",
    "valve margin": "margin",
    "throat diameter": "throat_diameter",
}
"""Kinds of measurement by their code, and the column of a profile that each is."""


@dataclass(frozen=True)
class Start:
    """Values that a form of a profile starts from."""

    values: dict[str, Any]
    cuts: tuple[SeatCut, ...] = ()
    profile: SeatProfile | None = None
    """The profile on record; None for one that is not saved yet."""

    usual: SeatProfile | None = None
    """The engine type's usual profile, where the cuts come from it."""

    offers_usual: bool = False
    """True where there is a usual profile that the cuts could come from."""


def start(db: Session, visit: Visit, seat: HeadPlace, when: When, *, fill: bool = False) -> Start:
    """Values a seat's form starts from: its profile, else after the work its side's usual one.

    Sizes of the valve and throat are this visit's measurements, else the usual values. The
    condition on arrival starts from nothing but what was measured, unless `fill` asks for the
    usual profile: saved as it stands, that would be a record of what nobody looked at.
    """
    profile = profile_at(visit, seat, when)
    if profile is not None:
        return Start(typed_values(profile), tuple(profile.cuts), profile)
    engine_type = visit.head.engine_type
    standard = seat_profiles.usual(db, engine_type, seat.side)
    if when is When.BEFORE and not fill:
        return Start(_measured(visit, seat, when), offers_usual=standard is not None)
    values = _usual_sizes(db, engine_type, seat.side, seat.valve)
    if standard is not None:
        # What the usual profile leaves open is filled by the usual values, and by no dash.
        values |= {name: size for name, size in typed_values(standard).items() if size}
        values["notes"] = ""
    values |= _measured(visit, seat, when)
    return Start(values, tuple(standard.cuts) if standard else (), None, standard)


def start_usual(db: Session, engine_type: EngineType, side: str) -> Start:
    """Values the form of a side's usual profile starts from."""
    profile = seat_profiles.usual(db, engine_type, side)
    if profile is None:
        return Start(_usual_sizes(db, engine_type, side, None))
    return Start(typed_values(profile), tuple(profile.cuts), profile)


def _usual_sizes(
    db: Session, engine_type: EngineType, side: str, valve: int | None
) -> dict[str, Any]:
    """Usual sizes of a side's valve and throat."""
    rows = {
        column: usual_values.holding(db, engine_type, code, side, valve)
        for code, column in MEASURED.items()
    }
    return {column: row.value for column, row in rows.items() if row is not None}


def _measured(visit: Visit, seat: HeadPlace, when: When) -> dict[str, Quantity]:
    """Sizes measured at a seat on this visit; after the work before those from before it."""
    plan = plan_of(visit)
    sizes: dict[str, Quantity] = {}
    for row in sorted(visit.measurements, key=lambda row: (row.when is when, row.at)):
        column = MEASURED.get(row.kind.code)
        if column is not None and _is_of(row, plan, seat):
            sizes[column] = row.value
    return sizes


def _is_of(row: Measurement, plan: HeadPlan, seat: HeadPlace) -> bool:
    place = row.place_in(plan)
    return place is not None and place.key == seat.key and not row.place and row.distance is None
