"""Checks of the sections of a port as typed: each value alone, then one against another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc import port_form
from shopflow.errors import FieldError, ValidationError
from shopflow.models import MeasurementKind
from shopflow.services import fields
from shopflow.services.measuring import measurements, plausibility
from shopflow.texts import gettext
from shopflow.units import from_si

KIND = "port area"
SHAPE = {
    "width": "port width",
    "height": "port height",
    "perimeter": "port perimeter",
    "short_side_radius": "short-side radius",
}
"""Kinds of measurement of a section beside its area, by the field of a row."""

ALONG = frozenset({KIND, *SHAPE.values()})
"""Kinds measured at a distance along a port."""

PLACE: fields.Specification = {
    name: measurements.PLACE[name] for name in ("cylinder", "side", "when", "datum", "notes")
}
DISTANCE = fields.quantity("length", required=True, above=measurements.NEVER_BELOW)


def faults_of(
    db: Session, shared: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]
) -> list[FieldError]:
    """Faults of the sections of a port, as `record` raises them; nothing is recorded."""
    specification = {"distance": DISTANCE} | {
        name: plausibility.value(kind, required=name == "area", above=0.0)
        for name, kind in kinds_of_values(db).items()
    }
    faults = _faults(PLACE, shared, "")
    if not shared.get("side"):
        faults.append(FieldError("side", gettext("choose the side of the port")))
    for number, row in enumerate(rows):
        blank = dict.fromkeys(specification)
        faults += _faults(specification, {**blank, **row}, f"rows-{number}-")
    faults = faults or [*_repeated(rows), *_impossible(specification, rows)]
    if not rows:
        faults.append(FieldError("rows-0-distance", gettext("no sections: enter at least one")))
    return faults


def kinds_of_values(db: Session) -> dict[str, MeasurementKind]:
    """Kinds of what is measured of a section, by the field of a row."""
    codes = {"area": KIND, **SHAPE}
    return {name: measurements.kind_by_code(db, code) for name, code in codes.items()}


def is_given(typed: Any) -> bool:
    """True where something was typed."""
    return bool(typed.strip()) if isinstance(typed, str) else typed is not None


def _impossible(
    specification: fields.Specification, rows: Sequence[Mapping[str, Any]]
) -> Iterator[FieldError]:
    """A fault at each section whose area its perimeter, or its width and height, cannot hold."""
    for number, row in enumerate(rows):
        sizes = fields.read(specification, {**dict.fromkeys(specification), **row})
        area, perimeter = sizes["area"], sizes["perimeter"]
        if perimeter and not port_form.is_enclosed(area.si, perimeter.si):
            yield FieldError(
                f"rows-{number}-perimeter",
                gettext(
                    "{perimeter} enclose at most {most}, less than the area of {area}: measure "
                    "both again",
                    perimeter=perimeter.text,
                    most=_as_typed(port_form.largest_area(perimeter.si), area.unit),
                    area=area.text,
                ),
            )
        width, height = sizes["width"], sizes["height"]
        if width and height and not port_form.fits_within(area.si, width.si, height.si):
            yield FieldError(
                f"rows-{number}-width",
                gettext(
                    "{width} by {height} hold at most {most}, less than the area of {area}: "
                    "measure them again",
                    width=width.text,
                    height=height.text,
                    most=_as_typed(width.si * height.si, area.unit),
                    area=area.text,
                ),
            )


def _as_typed(si: float, unit: str) -> str:
    """An SI value in a unit, in four digits."""
    return f"{float(f'{from_si(si, unit):.4g}'):.10g} {unit}"


def _faults(spec: fields.Specification, values: Mapping[str, Any], prefix: str) -> list[FieldError]:
    try:
        fields.read(spec, values)
    except ValidationError as error:
        return [FieldError(f"{prefix}{item.key}", item.message) for item in error.faults]
    return []


def _repeated(rows: Sequence[Mapping[str, Any]]) -> list[FieldError]:
    """A fault at each section whose distance an earlier one has."""
    first_numbers: dict[float, int] = {}
    repeated = []
    for number, row in enumerate(rows):
        distance = round(DISTANCE(row["distance"]).si, 9)
        first = first_numbers.setdefault(distance, number)
        if first != number:
            message = gettext("the same distance as section {first}", first=first + 1)
            repeated.append(FieldError(f"rows-{number}-distance", message))
    return repeated
