"""Limits of figures by engine type: what a figure is held against where none is typed with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from sqlalchemy import Select, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session, lazyload

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineLimit, EngineType, MeasurementKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import plausibility
from shopflow.texts import gettext, translated
from shopflow.units import CONDITION, Quantity, parse

LONGEST_SOURCE = 200

Row = TypeVar("Row")

WORST_CONDITION = parse("repaired", CONDITION)
"""The worst that a condition may be where an engine type says nothing else."""


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
        EngineLimit.engine_type_id == engine_type.id, EngineLimit.kind_id == kind.id
    )
    return of_side_or_both(db, query, EngineLimit.side, side)


def bounds(
    kind: MeasurementKind, limit: EngineLimit | None
) -> tuple[Quantity | None, Quantity | None]:
    """Minimum and maximum of a kind by its limit; damage is outside without any."""
    if limit is not None:
        return limit.lower, limit.upper
    return None, WORST_CONDITION if kind.dimension == CONDITION else None


def of_side_or_both(
    db: Session, query: Select[Row], column: InstrumentedAttribute[str], side: str
) -> Row | None:
    """Row of a query that is one side's own, else that of both."""
    return db.scalars(query.where(column.in_(("", side))).order_by(column.desc())).first()


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
    note = f"{engine_type.title}, {kind.name} {translated(side)}".rstrip()
    audit_log.record(db, by, limit, "set", note=note)
    return limit


def copy(
    db: Session, by: Actor, engine_type: EngineType, source: EngineType, *, replace: bool = False
) -> list[EngineLimit]:
    """Copy the limits of another engine type; those set here already stay unless `replace`.

    Gives the limits set. The source of each names the other type. Raises ValidationError at
    `source_id` where there is nothing to copy.
    """
    if source is engine_type:
        raise ValidationError([FieldError("source_id", gettext("choose another engine type"))])
    standing = {(row.kind_id, row.side) for row in of_engine_type(db, engine_type)}
    rows = of_engine_type(db, source)
    if not rows:
        message = gettext("{engine_type} has no limits to copy", engine_type=source.title)
        raise ValidationError([FieldError("source_id", message)])
    return [
        set_(db, by, engine_type, row.kind, row.side, _copied(row, source))
        for row in rows
        if replace or (row.kind_id, row.side) not in standing
    ]


def with_limits(db: Session, but: EngineType) -> list[tuple[EngineType, int]]:
    """The other engine types that have limits, by name, each with their number."""
    query = (
        select(EngineType, func.count(EngineLimit.id))
        .join(EngineLimit, EngineLimit.engine_type_id == EngineType.id)
        .where(EngineType.id != but.id)
        .group_by(EngineType.id)
        .order_by(EngineType.builder, EngineType.family)
        .options(lazyload(EngineType.aliases))
    )
    return [(engine_type, count) for engine_type, count in db.execute(query)]


def _copied(row: EngineLimit, source: EngineType) -> dict[str, Any]:
    """A limit's values as typed, and where they were copied from."""
    origin = gettext("copied from {engine_type}", engine_type=source.title)
    noted = f"{row.source}, {origin}" if row.source else origin
    return {
        "lower": row.lower.text if row.lower else "",
        "upper": row.upper.text if row.upper else "",
        "source": noted if len(noted) <= LONGEST_SOURCE else noted[: LONGEST_SOURCE - 1] + "…",
    }


def take_out(db: Session, by: Actor, limit: EngineLimit) -> None:
    """Remove a limit; measurements recorded from now on are no longer checked against it."""
    audit_log.record(
        db, by, limit, "taken out", note=f"{limit.kind.name} {translated(limit.side)}".rstrip()
    )
    db.delete(limit)
    db.flush()


def _read(kind: MeasurementKind, values: Mapping[str, Any]) -> dict[str, Any]:
    bound = plausibility.value(kind)
    specification = {"lower": bound, "upper": bound, "source": fields.text(most=LONGEST_SOURCE)}
    clean = fields.require(specification, values, "lower", "upper")
    lower, upper = clean["lower"], clean["upper"]
    if lower is None and upper is None:
        raise ValidationError([FieldError("lower", gettext("enter a minimum, a maximum, or both"))])
    if lower is not None and upper is not None and lower.si > upper.si:
        raise ValidationError(
            [FieldError("lower", gettext("the minimum is above the maximum: correct one of them"))]
        )
    return clean
