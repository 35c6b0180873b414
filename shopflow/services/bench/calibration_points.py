"""The points of a range's calibration: read as typed, and handed to its flow tests."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from math import isfinite
from typing import Any

from shopflow.calc.calibration import CalibrationCurve, CalibrationModel
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchRange, Calibration
from shopflow.testfile.calibration import calibration_faults, curve_of
from shopflow.texts import gettext

COLUMNS = {
    "reading": "readings",
    "flow": "flows",
    "uncertainty": "uncertainties",
}
"""Cells of a typed point, and the column of a calibration that all of a kind are in."""

FIELDS = ("model", "reading_unit", "readings", "flow_unit", "flows", "uncertainties")
"""Columns of a calibration by points; the session file has them as `calibration_…`."""

TYPED = ("model", "reading_unit", "flow_unit", "points")
"""Fields of a form that say all of a calibration by points."""

Point = Mapping[str, str]


def read_points(bench_range: BenchRange, typed: Mapping[str, Any]) -> dict[str, Any]:
    """A calibration's columns from the rows typed; nothing for one by a factor.

    Blank rows are left out. Raises ValidationError keyed by cell, as "points-2-flow".
    """
    rows = {
        index: point
        for index, point in enumerate(typed.get("points") or ())
        if any(str(point.get(cell) or "").strip() for cell in COLUMNS)
    }
    if not typed.get("model"):
        if rows:
            raise ValidationError(
                [FieldError("model", gettext("points are typed: choose a line or curve"))]
            )
        return {}
    if typed["model"] not in tuple(CalibrationModel):
        raise ValidationError([FieldError("model", gettext("choose a factor, a line or a curve"))])
    if not rows:
        raise ValidationError([FieldError("points-0-reading", gettext("enter the points"))])
    columns = {"model": typed["model"]}
    columns |= {name: typed.get(name) or "" for name in ("reading_unit", "flow_unit")}
    columns |= _numbers(rows)
    faults = [_at_cell(fault, list(rows)) for fault in _faults(bench_range, columns)]
    if faults:
        raise ValidationError(faults)
    return columns


def curve(bench_range: BenchRange, columns: Mapping[str, Any]) -> CalibrationCurve | None:
    """The curve that a calibration's columns give on a range; None for one by a factor."""
    return curve_of(_fields(bench_range, columns).get)


def curve_of_calibration(calibration: Calibration) -> CalibrationCurve | None:
    """The curve of a calibration on record; None for one by a factor."""
    return curve(calibration.range, {name: getattr(calibration, name) for name in FIELDS})


def as_typed(calibration: Calibration | None) -> dict[str, str]:
    """A calibration's points by the keys of the session file; blank for one by a factor."""
    values = {name: getattr(calibration, name, "") for name in FIELDS}
    return {
        f"calibration_{name}": ", ".join(map(str, value)) if isinstance(value, tuple) else value
        for name, value in values.items()
    }


def factor_at(calibration: Calibration, indicated: float) -> Decimal:
    """True over indicated flow at an indicated flow in m3/s."""
    fitted = curve_of_calibration(calibration)
    if fitted is None:
        return calibration.factor
    return Decimal(f"{float(fitted.true_flow(indicated)) / indicated:.6f}")


def _numbers(rows: Mapping[int, Point]) -> dict[str, tuple[Decimal, ...]]:
    """The rows as columns of numbers. Raises ValidationError."""
    faults: list[FieldError] = []
    columns: dict[str, tuple[Decimal, ...]] = {}
    for cell, name in COLUMNS.items():
        numbers = []
        for place, point in rows.items():
            try:
                numbers.append(_number(str(point.get(cell) or "")))
            except ValueError as error:
                faults.append(FieldError(f"points-{place}-{cell}", str(error)))
        columns[name] = tuple(numbers)
    if faults:
        raise ValidationError(faults)
    return columns


def _number(text: str) -> Decimal:
    typed = text.strip().removesuffix("%").strip()
    if not typed:
        raise ValueError(gettext("required: enter a value"))
    try:
        number = Decimal(typed)
    except InvalidOperation:
        raise ValueError(gettext("'{typed}' is not a number", typed=typed)) from None
    if not (number.is_finite() and isfinite(float(number))) or len(typed) > 40:
        raise ValueError(gettext("'{typed}' is not a number that can be stored", typed=typed[:40]))
    return number


def _fields(bench_range: BenchRange, columns: Mapping[str, Any]) -> dict[str, Any]:
    """As the session file's fields are called."""
    return {f"calibration_{name}": columns.get(name) for name in FIELDS} | {
        "range": bench_range.full_scale,
        "reading_kind": bench_range.bench.reading.value,
    }


def _faults(bench_range: BenchRange, columns: Mapping[str, Any]) -> Iterator[FieldError]:
    return calibration_faults(_fields(bench_range, columns))


def _at_cell(fault: FieldError, places: Sequence[int]) -> FieldError:
    """A fault of the session file, at the cell of the table it was typed in."""
    match = re.fullmatch(r"bench\.calibration_(\w+?)(?:\[(\d+)\])?", fault.key)
    name = match[1] if match else "readings"
    cells = {column: cell for cell, column in COLUMNS.items()}
    if match is None or name not in cells:
        return FieldError(name, fault.message)
    place = places[int(match[2]) - 1] if match[2] else places[0]
    message = fault.message.split(": ", 1)[1] if match[2] else fault.message
    return FieldError(f"points-{place}-{cells[name]}", message)
