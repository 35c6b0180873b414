"""A whole sheet recorded at once: as `measurements.record` of each value, in a few statements."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, ValidationError
from shopflow.models import HeadPlace, Measurement, MeasurementKind, Visit, When
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.measuring import calculated, limits, plausibility


@dataclass(frozen=True)
class Value:
    """A value as typed, with its kind, place and stage."""

    kind: MeasurementKind
    place: HeadPlace
    when: When
    typed: str


def record_all(
    db: Session, by: Actor, visit: Visit, values: Iterable[Value]
) -> Sequence[Measurement]:
    """Record values of a head at places of its plan, each with its engine type's limits.

    What follows from them is calculated. Raises ValidationError at the code of the kind.
    """
    # What others follow from comes first: each is looked for among the few rows there are then.
    ordered = sorted(values, key=lambda value: value.kind.code not in calculated.BY_INPUT)
    bounds = {
        (row.kind_id, row.side): row for row in limits.of_engine_type(db, visit.head.engine_type)
    }
    rows = []
    last_of_place: dict[Any, Measurement] = {}
    with audit_log.deferred(db, by):
        for value in ordered:
            if value.kind.code not in calculated.BY_INPUT:
                _calculate(db, by, last_of_place)
            row = _row(by, value, bounds)
            visit.measurements.append(row)
            note = f"{row.kind.name} {row.value} {row.where}".strip()
            audit_log.record(db, by, row, "measured", job=visit.job, note=note)
            if value.kind.code in calculated.BY_INPUT:
                following = calculated.BY_INPUT[value.kind.code].code
                last_of_place[following, calculated.place_of(row)] = row
            rows.append(row)
        _calculate(db, by, last_of_place)
    return rows


def _calculate(db: Session, by: Actor, last_of_place: dict[Any, Measurement]) -> None:
    """Calculate what follows, once for each place; nothing is left to calculate."""
    for row in last_of_place.values():
        calculated.follow(db, by, row)
    last_of_place.clear()


def _row(by: Actor, value: Value, bounds: dict[tuple[int, str], Any]) -> Measurement:
    kind, place = value.kind, value.place
    limit = bounds.get((kind.id, place.side)) or bounds.get((kind.id, ""))
    lower, upper = limits.bounds(kind, limit)
    return Measurement(
        kind=kind, cylinder=place.cylinder, side=place.side, valve=place.valve, place="",
        when=value.when, value=_quantity(value), lower=lower, upper=upper, at=by.at,
        person_id=by.person_id, notes="",
    )  # fmt: skip


def _quantity(value: Value) -> Any:
    try:
        return plausibility.value(value.kind, required=True)(value.typed)
    except ValueError as error:
        raise ValidationError([FieldError(value.kind.code, str(error))]) from None
