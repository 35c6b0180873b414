"""Measurements that follow from others of their place: calculated, never typed.

They are rows like any other, so that limits, decisions and documents hold for them. They are
calculated again whenever a measurement they follow from is added, corrected, struck out or
restored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc import fits
from shopflow.models import Measurement, MeasurementKind, Visit, When
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.measuring import limits, usual_values
from shopflow.texts import gettext, lazy
from shopflow.units import UNITS, Quantity, from_si, parse

PlaceKey = tuple[int | None, str, int | None, str, When]
"""Cylinder, side, valve, place as typed, before or after."""


@dataclass(frozen=True)
class Calculated:
    """A kind that follows from others, of which the first `needed` must be there."""

    code: str
    inputs: tuple[str, ...]
    formula: Callable[..., Decimal]
    words: Any
    """Inputs, in words."""

    needed: int = 2
    uses_usual: str = ""
    """A kind whose usual value is its last input."""

    @property
    def refusal(self) -> str:
        """Reason that it is not typed, with the measurements to enter in its place."""
        return gettext("calculated from {inputs}: enter those instead", inputs=self.words)


KINDS = (
    Calculated(
        "seat interference",
        ("insert diameter", "insert bore"),
        fits.interference,
        lazy("the insert's outside diameter and its bore"),
    ),
    Calculated(
        "stem wear",
        ("stem diameter top", "stem diameter middle", "stem diameter bottom"),
        fits.wear,
        lazy("the stem's diameters along its length"),
    ),
    Calculated(
        "recession",
        ("stem height",),
        fits.recession,
        lazy("the stem height and the engine type's usual one"),
        needed=1,
        uses_usual="stem height",
    ),
)
BY_CODE = {kind.code: kind for kind in KINDS}
BY_INPUT = {code: kind for kind in KINDS for code in kind.inputs}


def place_of(row: Measurement) -> PlaceKey:
    """Key that rows of one place share."""
    return row.cylinder, row.side, row.valve, row.place, row.when


def follow(
    db: Session, by: Actor, changed: Measurement, moved_from: PlaceKey | None = None
) -> None:
    """Calculate again what follows from a measurement, at its place and where it was before."""
    kind = BY_INPUT.get(changed.kind.code)
    if kind is None:
        return
    for key in dict.fromkeys(filter(None, (moved_from, place_of(changed)))):
        _calculate(db, by, changed, kind, key)


def _calculate(
    db: Session, by: Actor, changed: Measurement, kind: Calculated, key: PlaceKey
) -> None:
    visit = changed.job_head
    standing = _standing(visit, kind, key)
    result = _result(db, visit, kind, key)
    if result is None:
        if standing is not None:
            _strike(db, by, standing)
        return
    if standing is not None:
        audit_log.change(db, by, standing, {"value": result}, job=visit.job, verb="calculated")
        return
    row = _row(db, by, visit, kind, key, result)
    if row is not None:
        visit.measurements.append(row)
        row.operation = changed.operation
        note = f"{row.kind.name} {row.value} {row.where}".strip()
        audit_log.record(db, by, row, "calculated", job=visit.job, note=note)


def _row(
    db: Session, by: Actor, visit: Visit, kind: Calculated, key: PlaceKey, result: Quantity
) -> Measurement | None:
    """A new row of what was calculated; none where the shop has archived its kind."""
    of_kind = db.scalar(select(MeasurementKind).where(MeasurementKind.code == kind.code))
    if of_kind is None or not of_kind.active:
        return None
    cylinder, side, valve, place, when = key
    limit = limits.holding(db, visit.head.engine_type, of_kind, side)
    return Measurement(
        kind=of_kind, cylinder=cylinder, side=side, valve=valve, place=place, when=when,
        value=result, lower=limit and limit.lower, upper=limit and limit.upper,
        calculated=True, at=by.at, person_id=by.person_id, notes="",
    )  # fmt: skip


def _standing(visit: Visit, kind: Calculated, key: PlaceKey) -> Measurement | None:
    """Row that was calculated for a place before."""
    rows = [row for row in visit.measurements if row.calculated and row.kind.code == kind.code]
    return next((row for row in reversed(rows) if place_of(row) == key), None)


def _strike(db: Session, by: Actor, row: Measurement) -> None:
    """Let a calculated row count no longer: an input of it is gone."""
    values = {
        "struck_at": by.at,
        "struck_by_id": by.person_id,
        "struck_because": gettext("a measurement it was calculated from was removed"),
    }
    audit_log.change(db, by, row, values, job=row.job_head.job, verb="struck out")
    db.flush()
    db.expire(row.job_head, ["measurements", "struck_measurements"])
    if row.operation is not None:
        db.expire(row.operation, ["measurements"])


def _result(db: Session, visit: Visit, kind: Calculated, key: PlaceKey) -> Quantity | None:
    latest = {
        row.kind.code: row.value
        for row in visit.measurements
        if row.kind.code in kind.inputs and place_of(row) == key and row.counts
    }
    inputs = [latest[code] for code in kind.inputs if code in latest]
    if len(inputs) < kind.needed:
        return None
    if kind.uses_usual:
        _, side, valve, _, _ = key
        usual = usual_values.holding(db, visit.head.engine_type, kind.uses_usual, side, valve)
        if usual is None:
            return None
        inputs.append(usual.value)
    return difference(kind.formula, inputs)


def difference(formula: Callable[..., Decimal], inputs: list[Quantity]) -> Quantity:
    """A formula of quantities in the first one's unit, to the finest decimals of those typed in it.

    >>> from shopflow.units import parse
    >>> sizes = [parse("34.11 mm", "length"), parse("34.0 mm", "length")]
    >>> str(difference(fits.interference, sizes))
    '0.11 mm'
    """
    unit = inputs[0].unit
    typed = [Decimal(item.number) for item in inputs if item.unit == unit]
    places = max(max(0, -int(number.as_tuple().exponent)) for number in typed)
    if len(typed) < len(inputs):
        # A length typed in the other system is as fine as the unit it is shown in allows.
        places = max(places, 4 if unit == "in" else 3)
    numbers = [
        Decimal(item.number) if item.unit == unit else Decimal(repr(from_si(item.si, unit)))
        for item in inputs
    ]
    return parse(f"{formula(*numbers):.{places}f} {unit}", UNITS[unit].dimension)
