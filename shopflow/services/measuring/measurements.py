"""Recording what was measured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Datum, Measurement, MeasurementKind, Operation, Visit, When
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import calculated, limits, placing, plausibility
from shopflow.services.measuring.placing import HasPlaces
from shopflow.texts import gettext


def _side(value: Any) -> str:
    if value not in ("", None, "intake", "exhaust"):
        raise ValueError(gettext("choose intake, exhaust or neither"))
    return value or ""


def _datum(value: Any) -> Datum | None:
    return fields.one_of(Datum)(value) if value else None


NEVER_BELOW = plausibility.NEVER_BELOW

PLACE: fields.Specification = {
    "cylinder": fields.count(least=1),
    "side": _side,
    "valve": fields.text(most=40),
    "place": fields.text(),
    "distance": fields.quantity("length", above=NEVER_BELOW),
    "datum": _datum,
    "when": fields.one_of(When),
    "notes": fields.text(),
}


def get(db: Session, measurement_id: int) -> Measurement:
    """The measurement with this key. Raises NotFoundError."""
    measurement = db.get(Measurement, measurement_id)
    if measurement is None:
        raise NotFoundError(gettext("this measurement does not exist"))
    return measurement


def get_kind(db: Session, kind_id: int) -> MeasurementKind:
    """The kind of measurement with this key. Raises NotFoundError."""
    kind = db.get(MeasurementKind, kind_id)
    if kind is None:
        raise NotFoundError(gettext("this kind of measurement does not exist: choose another"))
    return kind


def kind_by_code(db: Session, code: str) -> MeasurementKind:
    """The kind of measurement with this code. Raises ValidationError at `kind`."""
    kind = db.scalar(select(MeasurementKind).where(MeasurementKind.code == code))
    if kind is None:
        raise ValidationError(
            [FieldError("kind", gettext("unknown kind of measurement '{code}'", code=code))]
        )
    return kind


def record(
    db: Session,
    by: Actor,
    visit: Visit,
    kind_id: int,
    values: Mapping[str, Any],
    operation: Operation | None = None,
) -> Measurement:
    """Record a measured value, its location and its limits; the engine type's where none is given.

    A `distance` along the port is from the valve seat where no `datum` is given; `valve` is the
    valve's name or number on its side. What follows from it is calculated again. Raises
    ValidationError.
    """
    kind = db.get(MeasurementKind, kind_id)
    if kind is None:
        raise ValidationError([FieldError("kind_id", gettext("choose what was measured"))])
    clean = _with_limits(db, visit, kind, read(kind, visit.head, values))
    measurement = Measurement(kind=kind, at=by.at, person_id=by.person_id, **clean)
    visit.measurements.append(measurement)
    measurement.operation = operation
    note = f"{kind.name} {measurement.value} {measurement.where}".strip()
    audit_log.record(db, by, measurement, "measured", job=visit.job, note=note)
    calculated.follow(db, by, measurement)
    return measurement


def read(kind: MeasurementKind, head: HasPlaces, values: Mapping[str, Any]) -> dict[str, Any]:
    """A new measurement's fields, checked against its head; nothing is recorded.

    Raises ValidationError.
    """
    if kind.code in calculated.BY_CODE:
        raise ValidationError([FieldError("value", calculated.BY_CODE[kind.code].refusal)])
    return _read(kind, head, {"value": None, **values})


def correct(
    db: Session, by: Actor, measurement: Measurement, values: Mapping[str, Any]
) -> Measurement:
    """Correct a measurement; the log keeps what it was. Raises ValidationError, RuleError."""
    if not measurement.counts:
        raise RuleError(gettext("this measurement is struck out: restore it before you correct it"))
    _must_be_typed(measurement)
    before = calculated.place_of(measurement)
    entered = {"lower": measurement.lower, "upper": measurement.upper, **values}
    if "datum" in entered:
        entered = {"distance": measurement.distance, **entered}
    for name in ("cylinder", "side"):
        entered.setdefault(name, getattr(measurement, name))
    if entered["cylinder"] and entered["side"]:
        entered.setdefault("valve", measurement.valve)
    visit = measurement.job_head
    clean = _with_limits(db, visit, measurement.kind, _read(measurement.kind, visit.head, entered))
    audit_log.change(db, by, measurement, clean, job=visit.job, verb="corrected")
    calculated.follow(db, by, measurement, before)
    return measurement


def strike(db: Session, by: Actor, measurement: Measurement, reason: str) -> None:
    """Strike a measurement out: it stays on record and counts nowhere.

    Raises ValidationError at `reason`, RuleError where it is struck out already.
    """
    if not measurement.counts:
        raise RuleError(gettext("this measurement is struck out already"))
    _must_be_typed(measurement)
    clean = fields.read({"reason": fields.text(required=True)}, {"reason": reason})
    values = {
        "struck_at": by.at,
        "struck_by_id": by.person_id,
        "struck_because": clean["reason"],
    }
    _change_counting(db, by, measurement, values, "struck out")


def restore(db: Session, by: Actor, measurement: Measurement) -> None:
    """Let a measurement that was struck out count again. Raises RuleError where it counts."""
    if measurement.counts:
        raise RuleError(gettext("this measurement counts already"))
    values = {"struck_at": None, "struck_by_id": None, "struck_because": ""}
    _change_counting(db, by, measurement, values, "restored")


def _change_counting(
    db: Session, by: Actor, measurement: Measurement, values: dict[str, Any], verb: str
) -> None:
    visit = measurement.job_head
    audit_log.change(db, by, measurement, values, job=visit.job, verb=verb)
    db.flush()
    # Both are read anew, with it or without.
    db.expire(visit, ["measurements", "struck_measurements"])
    if measurement.operation is not None:
        db.expire(measurement.operation, ["measurements"])
    calculated.follow(db, by, measurement)


def _must_be_typed(measurement: Measurement) -> None:
    if measurement.calculated:
        raise RuleError(calculated.BY_CODE[measurement.kind.code].refusal)


def _with_limits(
    db: Session, visit: Visit, kind: MeasurementKind, clean: dict[str, Any]
) -> dict[str, Any]:
    """A measurement with the limits of its engine type, where it has none of its own."""
    if clean.get("lower") is not None or clean.get("upper") is not None:
        return clean
    limit = limits.holding(db, visit.head.engine_type, kind, clean.get("side", ""))
    lower, upper = limits.bounds(kind, limit)
    return clean if lower is upper is None else {**clean, "lower": lower, "upper": upper}


def _read(kind: MeasurementKind, head: HasPlaces, values: Mapping[str, Any]) -> dict[str, Any]:
    specification = {
        **PLACE,
        "value": plausibility.value(kind, required=True),
        "lower": plausibility.value(kind),
        "upper": plausibility.value(kind),
    }
    clean = fields.read(specification, values)
    if "cylinder" in clean or "valve" in clean:
        clean |= placing.read_place(kind.place_kind, head, clean)
    datum = clean.pop("datum", None)
    if "distance" in clean:
        clean["datum"] = (datum or Datum.SEAT) if clean["distance"] is not None else None
    lower, upper = clean.get("lower"), clean.get("upper")
    if lower is not None and upper is not None and lower.si > upper.si:
        raise ValidationError(
            [FieldError("lower", gettext("the minimum is above the maximum: correct one of them"))]
        )
    return clean
