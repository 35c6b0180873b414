"""A calibration by points in a session file: whether it goes together, and its curve."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from shopflow.calc.calibration import CalibrationCurve, CalibrationModel, calibration_curve
from shopflow.errors import FieldError
from shopflow.testfile.keys import FLOWS
from shopflow.testfile.meter import PERCENT_OF_RANGE, Meter
from shopflow.texts import gettext
from shopflow.units import to_si

ROWS = ("calibration_readings", "calibration_flows", "calibration_uncertainties")
NEEDED = (*ROWS, "calibration_reading_unit", "calibration_flow_unit")
"""Fields that say all of a calibration by points; what runs through them is a line by default."""

MOST_POINTS = 50
"""More than any bench was ever calibrated at."""


def curve_of(field: Callable[[str], Any]) -> CalibrationCurve | None:
    """The calibration that a session's fields describe; None for one by a factor.

    Raises ValueError where no curve can be had.
    """
    if not field("calibration_readings"):
        return None
    unit = field("calibration_reading_unit")
    # A pressure difference is calibrated by the flow it gives: no air is needed here.
    meter = Meter(field("range")) if unit == "%" else Meter()
    readings, flows, uncertainties = (tuple(map(float, field(name))) for name in ROWS)
    return calibration_curve(
        tuple(meter.indicated(reading, unit) for reading in readings),
        tuple(to_si(flow, field("calibration_flow_unit")) for flow in flows),
        tuple(part / 100.0 for part in uncertainties),
        CalibrationModel(field("calibration_model") or CalibrationModel.LINE),
    )


def calibration_faults(values: Mapping[str, Any]) -> Iterator[FieldError]:
    """Faults of the points of a calibration.

    `values` are the fields that could be read; one that was refused is not among them.
    """
    stated = [name for name in (*NEEDED, "calibration_model") if values.get(name)]
    if not stated:
        return
    faults = [*_incomplete(values, stated[0]), *_units(values), *_rows(values)]
    if values.get("calibration_factor", 1) != 1:
        message = gettext("must be 1 with calibration points, which take its place")
        faults.append(FieldError("bench.calibration_factor", message))
    yield from faults
    if not faults and all(values.get(name) for name in NEEDED):
        yield from _curve(values)


def _incomplete(values: Mapping[str, Any], stated: str) -> Iterator[FieldError]:
    for name in NEEDED:
        # One that was refused has its own fault already.
        if not values.get(name, "refused"):
            yield FieldError(f"bench.{name}", gettext("missing; {given} needs it", given=stated))


def _units(values: Mapping[str, Any]) -> Iterator[FieldError]:
    unit, kind = values.get("calibration_reading_unit"), values.get("reading_kind")
    if unit == "%" and kind not in (None, PERCENT_OF_RANGE):
        yield FieldError(
            "bench.calibration_reading_unit",
            gettext(
                'in percent only with reading = "{percent_of_range}"',
                percent_of_range=PERCENT_OF_RANGE,
            ),
        )
    if (unit := values.get("calibration_flow_unit")) and unit not in FLOWS:
        yield FieldError(
            "bench.calibration_flow_unit",
            gettext("'{unit}' is no flow; use one of {flows}", unit=unit, flows=", ".join(FLOWS)),
        )


def _rows(values: Mapping[str, Any]) -> Iterator[FieldError]:
    """Each number of each array, and whether they are as many."""
    readings = values.get("calibration_readings") or ()
    if len(readings) > MOST_POINTS:
        yield FieldError(
            "bench.calibration_readings",
            gettext("at most {most_points} points", most_points=MOST_POINTS),
        )
        return
    for name in ROWS:
        numbers = values.get(name) or ()
        if readings and numbers and len(numbers) != len(readings):
            message = gettext(
                "{numbers} values for {readings} readings",
                numbers=len(numbers),
                readings=len(readings),
            )
            yield FieldError(f"bench.{name}", message)
        for row, typed in enumerate(numbers, start=1):
            if message := _fault(name, typed, numbers[row - 2] if row > 1 else None):
                yield FieldError(
                    f"bench.{name}[{row}]", gettext("row {row}: {fault}", row=row, fault=message)
                )


def _fault(name: str, typed: Decimal, before: Decimal | None) -> str:
    # What is too small for a double is nothing.
    if not float(typed) > 0.0:
        return gettext("{typed} is not above 0", typed=typed)
    if name == "calibration_uncertainties" and typed > 100:
        return gettext("{typed} is above 100 %", typed=typed)
    if name == "calibration_readings" and before is not None and typed <= before:
        return gettext(
            "{typed} is not above the reading before it, {before}", typed=typed, before=before
        )
    return ""


def _curve(values: Mapping[str, Any]) -> Iterator[FieldError]:
    if values["calibration_reading_unit"] == "%" and not values.get("range"):
        return
    try:
        curve_of(values.get)
    except ValueError as error:
        yield FieldError("bench.calibration_readings", str(error))
