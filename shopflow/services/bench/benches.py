"""Flow benches, their ranges and calibrations."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.metering import ElementKind
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Bench, BenchRange, ReadingKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.testfile.meter import OWN_ELEMENT, STANDARD_ELEMENT
from shopflow.texts import gettext
from shopflow.units import Quantity


def _element(value: Any) -> str:
    if value in (None, "", *ElementKind):
        return value or ""
    raise ValueError(gettext("one of {elementkind}", elementkind=", ".join(ElementKind)))


BENCH: fields.Specification = {
    "name": fields.text(required=True, most=100),
    "reading": fields.one_of(ReadingKind),
    "notes": fields.words(),
    "active": fields.flag(),
}
RANGE: fields.Specification = {
    "name": fields.text(required=True),
    "full_scale": fields.quantity("volume flow", above=0.0),
    "element_kind": _element,
    "element_diameter": fields.quantity("length", above=0.0),
    "pipe_diameter": fields.quantity("length", above=0.0),
    "element_coefficient": fields.decimal(),
    "element_area": fields.quantity("area", above=0.0),
}
RECORD: fields.Specification = {
    "division": fields.text(most=60),
    "gauge_mark": fields.text(),
    "gauge_accuracy": fields.quantity("ratio", above=0.0),
}
DIVISIONS = {
    ReadingKind.VOLUME_FLOW: "volume flow",
    ReadingKind.PERCENT_OF_RANGE: "ratio",
    ReadingKind.PRESSURE_DIFFERENCE: "pressure",
}
"""Dimension of a scale's division, by what the scale reads."""


def list_all(db: Session) -> list[Bench]:
    """Every bench, by name."""
    return list(db.scalars(select(Bench).order_by(Bench.name)))


def get(db: Session, bench_id: int) -> Bench:
    """The bench with this key. Raises NotFoundError."""
    bench = db.get(Bench, bench_id)
    if bench is None:
        raise NotFoundError(gettext("this bench does not exist"))
    return bench


def by_name(db: Session, name: str) -> Bench | None:
    """The bench of this name, or none."""
    return db.scalar(select(Bench).where(Bench.name == name))


def get_range(db: Session, range_id: int) -> BenchRange:
    """The range with this key. Raises NotFoundError."""
    bench_range = db.get(BenchRange, range_id)
    if bench_range is None:
        raise NotFoundError(gettext("this range does not exist"))
    return bench_range


def create(db: Session, by: Actor, values: Mapping[str, Any]) -> Bench:
    """Add a bench. Raises ValidationError."""
    clean = fields.require(BENCH, values, "name")
    if by_name(db, clean["name"]) is not None:
        raise ValidationError(
            [FieldError("name", gettext("there is a bench of this name already"))]
        )
    bench = Bench(**clean)
    db.add(bench)
    audit_log.record(db, by, bench, "added")
    return bench


def change(db: Session, by: Actor, bench: Bench, values: Mapping[str, Any]) -> Bench:
    """Change a bench, or take it out of use. Raises ValidationError."""
    clean = fields.read(BENCH, values)
    same_name = by_name(db, clean["name"]) if "name" in clean else None
    if same_name is not None and same_name is not bench:
        raise ValidationError(
            [FieldError("name", gettext("there is a bench of this name already"))]
        )
    audit_log.change(db, by, bench, clean)
    return bench


def add_range(db: Session, by: Actor, bench: Bench, values: Mapping[str, Any]) -> BenchRange:
    """Add a range to a bench. Raises ValidationError."""
    clean = fields.require(RANGE, values, "name")
    if any(existing.name == clean["name"] for existing in bench.ranges):
        raise ValidationError(
            [FieldError("name", gettext("the bench has a range of this name already"))]
        )
    if bench.reading is ReadingKind.PERCENT_OF_RANGE and clean.get("full_scale") is None:
        raise ValidationError([FieldError("full_scale", gettext("the flow that 100 % stands for"))])
    if bench.reading is ReadingKind.PRESSURE_DIFFERENCE:
        _whole_element(clean)
    added = BenchRange(bench=bench, **clean)
    db.add(added)
    audit_log.record(db, by, added, "added")
    return added


def change_record(
    db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]
) -> BenchRange:
    """Change what a range's new tests start with. Raises ValidationError."""
    clean = fields.read(RECORD, values)
    if "division" in clean:
        clean["division"] = _division(bench_range.bench, clean["division"])
    audit_log.change(db, by, bench_range, clean)
    return bench_range


def _division(bench: Bench, text: str) -> Quantity | None:
    """A division of the scale in what the bench reads. Raises ValidationError."""
    dimension = DIVISIONS[bench.reading]
    try:
        division: Quantity | None = fields.quantity(dimension, above=0.0)(text)
    except ValueError as error:
        raise ValidationError([FieldError("division", str(error))]) from None
    return division


def _whole_element(clean: Mapping[str, Any]) -> None:
    """Refuse an element that a flow cannot be calculated from. Raises ValidationError."""
    kind = clean.get("element_kind")
    if not kind:
        raise ValidationError(
            [FieldError("element_kind", gettext("what the pressure difference is read across"))]
        )
    needed = OWN_ELEMENT if kind == ElementKind.OWN else STANDARD_ELEMENT
    faults = [
        FieldError(name, gettext("required: enter a value"))
        for name in needed
        if not clean.get(name)
    ]
    bore, pipe = clean.get("element_diameter"), clean.get("pipe_diameter")
    if bore and pipe and bore.si >= pipe.si:
        faults.append(FieldError("element_diameter", gettext("must be smaller than the pipe")))
    if faults:
        raise ValidationError(faults)


def element_as_typed(bench_range: BenchRange) -> dict[str, str]:
    """A range's metering element by the keys of the session file."""
    names = (*STANDARD_ELEMENT, *OWN_ELEMENT)
    sizes_stored = {name: getattr(bench_range, name) for name in names}
    sizes = {name: str(value) for name, value in sizes_stored.items() if value is not None}
    return {"element": bench_range.element_kind, **sizes}
