"""Usual values by engine type: what forms and calculations of its heads start from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineType, MeasurementKind, UsualValue
from shopflow.models.places import SIDES
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import placing, plausibility
from shopflow.texts import gettext, translated


def get(db: Session, key: int) -> UsualValue:
    """The usual value with this key. Raises NotFoundError."""
    row = db.get(UsualValue, key)
    if row is None:
        raise NotFoundError(gettext("this usual value does not exist"))
    return row


def of_engine_type(db: Session, engine_type: EngineType) -> list[UsualValue]:
    """An engine type's usual values, in the shop's order of kinds, the intake side first."""
    query = (
        select(UsualValue)
        .join(UsualValue.kind)
        .where(UsualValue.engine_type_id == engine_type.id)
        .order_by(
            MeasurementKind.position, MeasurementKind.name, UsualValue.side.desc(), UsualValue.valve
        )
    )
    return list(db.scalars(query))


def holding(
    db: Session, engine_type: EngineType, code: str, side: str, valve: int | None = None
) -> UsualValue | None:
    """Usual value of a kind: the valve's own, else its side's, else that of both."""
    query = (
        select(UsualValue)
        .join(UsualValue.kind)
        .where(
            UsualValue.engine_type_id == engine_type.id,
            MeasurementKind.code == code,
            UsualValue.side.in_(("", side)),
            UsualValue.valve.in_((0, valve or 0)),
        )
        .order_by(UsualValue.valve.desc(), UsualValue.side.desc())
    )
    return db.scalars(query).first()


def set_(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    kind: MeasurementKind,
    values: Mapping[str, Any],
) -> UsualValue:
    """Set what is usual: `value`, `source`, for a `side` and a `valve` by name; replaces the last.

    Raises ValidationError.
    """
    specification = {
        "side": fields.among("", *SIDES),
        "valve": fields.text(most=40),
        "value": plausibility.value(kind, required=True),
        "source": fields.text(),
    }
    clean = fields.require(specification, {"side": "", "valve": "", **values}, "value")
    side = clean.pop("side")
    valve = _valve(engine_type, side, clean.pop("valve"))
    row = holding(db, engine_type, kind.code, side, valve)
    if row is not None and (row.side, row.valve) == (side, valve):
        audit_log.change(db, by, row, clean)
        return row
    row = UsualValue(engine_type_id=engine_type.id, kind=kind, side=side, valve=valve, **clean)
    db.add(row)
    audit_log.record(
        db, by, row, "set", note=f"{engine_type.title}, {kind.name} {translated(side)}".rstrip()
    )
    return row


def remove(db: Session, by: Actor, row: UsualValue) -> None:
    """Start from this value no longer."""
    audit_log.record(
        db, by, row, "removed", note=f"{row.kind.name} {translated(row.side)}".rstrip()
    )
    db.delete(row)
    db.flush()


def _valve(engine_type: EngineType, side: str, typed: str) -> int:
    """The number of the valve named, 0 for all of the side. Raises ValidationError."""
    if not typed:
        return 0
    if not side:
        raise ValidationError([FieldError("valve", gettext("choose the side as well"))])
    number = placing.valve_number(typed, engine_type.valve_names(side))
    if number is None:
        raise ValidationError(
            [
                FieldError(
                    "valve",
                    gettext(
                        "'{typed}' is not an {side} valve: choose one",
                        typed=typed,
                        side=translated(side),
                    ),
                )
            ]
        )
    return number
