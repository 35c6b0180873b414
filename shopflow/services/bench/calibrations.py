"""Calibrations of a bench's ranges."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import BenchRange, Calibration
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import calibration_points
from shopflow.texts import gettext


def _factor(value: Any) -> Any:
    number = fields.decimal()(1 if value in (None, "") else value)
    if not number:
        raise ValueError(gettext("must be more than 0"))
    return number


def _made_on(value: Any) -> Any:
    day = fields.day()(value)
    if day is None:
        raise ValueError(gettext("required: enter a value"))
    return day


CALIBRATION: fields.Specification = {
    "identifier": fields.text(required=True, most=60),
    "reference": fields.text(),
    "certificate_number": fields.text(),
    "factor": _factor,
    "expanded_uncertainty": fields.quantity("ratio", required=True, above=-1e-12),
    "scale_density": fields.quantity("density", above=0.0),
    "made_on": _made_on,
    "due_on": fields.day(),
    "notes": fields.words(),
}


def get_calibration(db: Session, calibration_id: int) -> Calibration:
    """The calibration with this key. Raises NotFoundError."""
    calibration = db.get(Calibration, calibration_id)
    if calibration is None:
        raise NotFoundError(gettext("this calibration does not exist"))
    return calibration


def calibrate(
    db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]
) -> Calibration:
    """Record a calibration of a range. Raises ValidationError."""
    typed = {name: values[name] for name in calibration_points.TYPED if name in values}
    entered = {name: value for name, value in values.items() if name not in typed}
    clean = _with_points(bench_range, entered, typed)
    if any(item.identifier == clean["identifier"] for item in bench_range.calibrations):
        raise ValidationError(
            [FieldError("identifier", gettext("this range has a calibration of that mark"))]
        )
    if clean.get("due_on") and clean["due_on"] < clean["made_on"]:
        raise ValidationError([FieldError("due_on", gettext("it falls due before it was made"))])
    calibration = Calibration(**clean)
    bench_range.calibrations.append(calibration)
    bench_range.calibrations.sort(key=lambda item: item.made_on)
    audit_log.record(db, by, calibration, "calibrated")
    return calibration


def _with_points(
    bench_range: BenchRange, entered: Mapping[str, Any], typed: Mapping[str, Any]
) -> dict[str, Any]:
    """A calibration's values; one by points need not state what they share. Raises
    ValidationError with the faults of both."""
    faults: list[FieldError] = []
    points: dict[str, Any] = {}
    try:
        points = calibration_points.read_points(bench_range, typed)
    except ValidationError as error:
        faults += error.faults
    if typed.get("model") and not entered.get("expanded_uncertainty"):
        entered = {**entered, "expanded_uncertainty": "0 %"}
    try:
        clean = fields.require(
            CALIBRATION, entered, "identifier", "expanded_uncertainty", "made_on", "factor"
        )
        if typed.get("model") and clean["factor"] != 1:
            faults.append(
                FieldError("factor", gettext("leave it empty: the points take its place"))
            )
    except ValidationError as error:
        faults += error.faults
    if faults:
        raise ValidationError(faults)
    return clean | points
