"""Limits of figures by engine type: what a figure is held against where none is typed with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineLimit, EngineType, MeasurementKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import plausibility
from shopflow.texts import gettext


def get(db: Session, limit_id: int) -> EngineLimit:
    """The limit with this key. Raises NotFoundError."""
    limit = db.get(EngineLimit, limit_id)
    if limit is None:
        raise NotFoundError(gettext("this limit does not exist"))
    return limit


def of_engine_type(db: Session, engine_type: EngineType) -> list[EngineLimit]:
    """An engine type's limits, by the figure's name and side."""
    query = (
        select(EngineLimit)
        .join(EngineLimit.kind)
        .where(EngineLimit.engine_type_id == engine_type.id)
        .order_by(MeasurementKind.name, EngineLimit.side)
    )
    return list(db.scalars(query))


def holding(
    db: Session, engine_type: EngineType, kind: MeasurementKind, side: str
) -> EngineLimit | None:
    """Limit of a kind of measurement on one side: the side's own, else that of both."""
    query = select(EngineLimit).where(
        EngineLimit.engine_type_id == engine_type.id,
        EngineLimit.kind_id == kind.id,
        EngineLimit.side.in_(("", side)),
    )
    return db.scalars(query.order_by(EngineLimit.side.desc())).first()


def set_(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    kind: MeasurementKind,
    side: str,
    values: Mapping[str, Any],
) -> EngineLimit:
    """Set the limits of a measurement: `lower`, `upper`, `source`; they replace any before.

    Measurements recorded before keep the limits they were checked against. Raises ValidationError.
    """
    clean = _read(kind, values)
    if side not in ("", "intake", "exhaust"):
        raise ValidationError([FieldError("side", gettext("choose intake, exhaust or neither"))])
    existing = holding(db, engine_type, kind, side)
    if existing is not None and existing.side == side:
        audit_log.change(db, by, existing, clean)
        return existing
    limit = EngineLimit(engine_type_id=engine_type.id, kind=kind, side=side, **clean)
    db.add(limit)
    note = f"{engine_type.title}, {kind.name} {side}".rstrip()
    audit_log.record(db, by, limit, "set", note=note)
    return limit


def take_out(db: Session, by: Actor, limit: EngineLimit) -> None:
    """Remove a limit; measurements recorded from now on are no longer checked against it."""
    audit_log.record(db, by, limit, "taken out", note=f"{limit.kind.name} {limit.side}".rstrip())
    db.delete(limit)
    db.flush()


def _read(kind: MeasurementKind, values: Mapping[str, Any]) -> dict[str, Any]:
    bound = plausibility.value(kind)
    specification = {"lower": bound, "upper": bound, "source": fields.text()}
    clean = fields.require(specification, values, "lower", "upper")
    lower, upper = clean["lower"], clean["upper"]
    if lower is None and upper is None:
        raise ValidationError([FieldError("lower", gettext("enter a minimum, a maximum, or both"))])
    if lower is not None and upper is not None and lower.si > upper.si:
        raise ValidationError(
            [FieldError("lower", gettext("the minimum is above the maximum: correct one of them"))]
        )
    return clean
