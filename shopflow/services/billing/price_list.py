"""The price list: usual prices by engine type and number of valves, and which fits a head."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import (
    EngineType,
    Head,
    OperationKind,
    PriceEntry,
    TaxClass,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "kind_id": fields.count(),
    "description": fields.text(),
    "part_number": fields.text(),
    "unit": fields.text(most=20),
    "engine_type_id": fields.count(),
    "valves": fields.count(least=1),
    "price": fields.price(),
    "per_valve": fields.flag(),
    "tax_class": fields.one_of(TaxClass),
}


def get(db: Session, entry_id: int) -> PriceEntry:
    """The entry with this key. Raises NotFoundError."""
    entry = db.get(PriceEntry, entry_id)
    if entry is None:
        raise NotFoundError(gettext("this price does not exist"))
    return entry


def everything(db: Session) -> list[PriceEntry]:
    """Every price, those of steps first, by name."""
    rows = db.scalars(select(PriceEntry)).all()
    return sorted(rows, key=lambda row: (row.kind_id is None, row.title.lower(), row.id))


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> PriceEntry:
    """Add a price of a step type or a part. Raises ValidationError."""
    entry = PriceEntry(**_read(db, {"description": "", **values}))
    db.add(entry)
    audit_log.record(db, by, entry, "added", note=entry.description)
    return entry


def change(db: Session, by: Actor, entry: PriceEntry, values: Mapping[str, Any]) -> PriceEntry:
    """Change a price; what was priced by it keeps its own. Raises ValidationError."""
    audit_log.change(db, by, entry, _read(db, values))
    return entry


def remove(db: Session, by: Actor, entry: PriceEntry) -> None:
    """Take a price off the list; what was priced by it keeps its own."""
    audit_log.record(db, by, entry, "removed", note=entry.title)
    db.delete(entry)


def valves_of(head: Head) -> int:
    """Number of valves of a head: of its layout, else of one with as many cylinders as its engine
    has, which is one head for an in-line engine."""
    if head.plan is not None:
        return head.plan.valve_count
    engine_type = head.engine_type
    cylinders = engine_type.cylinders_per_head or engine_type.cylinders or 0
    return engine_type.valves_per_cylinder * cylinders


def of_step(db: Session, kind: OperationKind, visit: Visit) -> Decimal | None:
    """The usual price of a type of step on a head; none where the shop has none.

    A price of its engine type goes before one of its number of valves, that before one for all,
    and that before the usual price of the type of step.
    """
    entries = db.scalars(select(PriceEntry).where(PriceEntry.kind_id == kind.id)).all()
    if not entries:
        return kind.usual_price
    valves = valves_of(visit.head)
    fitting = [entry for entry in entries if _fits(entry, visit.head.engine_type_id, valves)]
    if not fitting:
        return kind.usual_price
    best = max(fitting, key=_closeness)
    return best.price * valves if best.per_valve else best.price


def of_parts(db: Session, visit: Visit | None = None) -> list[PriceEntry]:
    """The parts on the list by name, those that fit a head, where one is named."""
    entries = [entry for entry in everything(db) if entry.kind_id is None]
    if visit is None:
        return entries
    valves = valves_of(visit.head)
    return [entry for entry in entries if _fits(entry, visit.head.engine_type_id, valves)]


def as_line(entry: PriceEntry) -> dict[str, Any]:
    """The fields of a job's line for a part on the list."""
    return {
        "description": entry.description,
        "part_number": entry.part_number,
        "unit": entry.unit,
        "unit_price": entry.price,
        "tax_class": entry.tax_class,
    }


def _fits(entry: PriceEntry, engine_type: int, valves: int) -> bool:
    return entry.engine_type_id in (None, engine_type) and entry.valves in (None, valves)


def _closeness(entry: PriceEntry) -> tuple[bool, bool, int]:
    """Closeness of an entry to a head, to be sorted by; of two alike the later wins."""
    return entry.engine_type_id is not None, entry.valves is not None, entry.id


def _read(db: Session, values: Mapping[str, Any]) -> dict[str, Any]:
    clean = fields.read(SPECIFICATION, values)
    faults = []
    if bool(clean.get("kind_id")) == bool(clean.get("description")):
        faults.append(FieldError("kind_id", gettext("choose a step type, or describe a part")))
    elif clean.get("kind_id") and db.get(OperationKind, clean["kind_id"]) is None:
        faults.append(FieldError("kind_id", gettext("choose a step type")))
    if clean.get("engine_type_id") and db.get(EngineType, clean["engine_type_id"]) is None:
        faults.append(FieldError("engine_type_id", gettext("choose an engine type")))
    if clean.get("price") is None:
        faults.append(FieldError("price", gettext("required: enter a value")))
    if clean.get("per_valve") and not clean.get("kind_id"):
        faults.append(FieldError("per_valve", gettext("only a step is priced by the valve")))
    if faults:
        raise ValidationError(faults)
    return {**clean, "kind_id": clean.get("kind_id") or None,
            "engine_type_id": clean.get("engine_type_id") or None}  # fmt: skip
