"""A range's leakage with the valve shut, and what it gives at a flow test's pressure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.leakage import LeakageCurve, leakage_curve
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchRange, LeakTest, ReadingKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.testfile.keys import FLOWS, PRESSURES
from shopflow.texts import gettext
from shopflow.units import Quantity, to_si

MOST_POINTS = 20


def _day(value: Any) -> Any:
    day = fields.day()(value)
    if day is None:
        raise ValueError(gettext("required: enter a value"))
    return day


def units_of(bench_range: BenchRange) -> tuple[str, ...]:
    """Units that a range's leakage may be typed in."""
    percent = bench_range.bench.reading is ReadingKind.PERCENT_OF_RANGE
    return ("%", *FLOWS) if percent else FLOWS


def record(db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]) -> LeakTest:
    """Record a leak test of a range.

    `points` are rows of a pressure and a leakage as typed; blank rows are left out. Raises
    ValidationError.
    """
    row = LeakTest(person_id=by.person_id, **read(bench_range, values))
    bench_range.leak_tests.append(row)
    bench_range.leak_tests.sort(key=lambda item: item.made_on)
    audit_log.record(db, by, row, "tested for leaks")
    return row


def read(bench_range: BenchRange, values: Mapping[str, Any]) -> dict[str, Any]:
    """A leak test's columns from what was typed. Raises ValidationError."""
    without_points = {name: value for name, value in values.items() if name != "points"}
    faults: list[FieldError] = []
    clean: dict[str, Any] = {}
    try:
        specification = {
            "made_on": _day,
            "pressure_unit": fields.among(*PRESSURES),
            "leakage_unit": fields.among(*units_of(bench_range)),
            "expanded_uncertainty": fields.quantity("ratio", required=True, above=0.0),
            "notes": fields.words(),
        }
        clean = fields.require(specification, without_points, *specification)
    except ValidationError as error:
        faults += error.faults
    clean |= _columns(values.get("points") or (), faults)
    if faults:
        raise ValidationError(faults)
    return clean


def _columns(points: Sequence[Mapping[str, Any]], faults: list[FieldError]) -> dict[str, Any]:
    """Rows that hold anything, as columns of rising pressures and their leakages."""
    reader = fields.decimal()
    rows: list[tuple[Decimal, Decimal]] = []
    for index, point in enumerate(points):
        if not any(str(point.get(cell) or "").strip() for cell in ("pressure", "leakage")):
            continue
        numbers = []
        for cell in ("pressure", "leakage"):
            try:
                number = reader(point.get(cell))
                if not number:
                    raise ValueError(gettext("enter a number above 0"))
                numbers.append(number)
            except ValueError as error:
                faults.append(FieldError(f"points-{index}-{cell}", str(error)))
        if len(numbers) == 2:
            if rows and numbers[0] <= rows[-1][0]:
                message = gettext(
                    "{numbers} is not above the pressure before it, {rows}",
                    numbers=numbers[0],
                    rows=rows[-1][0],
                )
                faults.append(FieldError(f"points-{index}-pressure", message))
            rows.append((numbers[0], numbers[1]))
    if len(rows) < 2 and not faults:
        faults.append(FieldError("points-0-pressure", gettext("enter 2 points or more")))
    return {
        "pressures": tuple(pressure for pressure, _ in rows),
        "leakages": tuple(leakage for _, leakage in rows),
    }


def curve(columns: Mapping[str, Any]) -> LeakageCurve:
    """The curve of a leak test's columns: Pa, and the leakage in its own unit."""
    unit, stated = columns["pressure_unit"], columns["expanded_uncertainty"]
    return leakage_curve(
        tuple(to_si(float(pressure), unit) for pressure in columns["pressures"]),
        tuple(map(float, columns["leakages"])),
        stated.si,
    )


def curve_of(row: LeakTest) -> LeakageCurve:
    """The curve of a leak test on record."""
    names = ("pressure_unit", "pressures", "leakages", "expanded_uncertainty")
    return curve({name: getattr(row, name) for name in names})


def words(leak_curve: LeakageCurve) -> str:
    """Curve of a leak test, in words."""
    if not leak_curve.is_power:
        return gettext("The leakage is taken from point to point.")
    return gettext(
        "The leakage rises with the pressure to the power of {exponent:.2f}.",
        exponent=leak_curve.exponent,
    )


def doubts(leak_curve: LeakageCurve) -> str:
    """Faults of that curve; empty where nothing is."""
    if not leak_curve.is_power:
        return gettext(
            "No single power of the pressure fits these points as closely as their ± allows: "
            "check the points and their ±."
        )
    if not leak_curve.is_usual:
        return gettext(
            "The power of a leak lies between 0.5 and 1: check the points, the zero of the scale "
            "and the valve."
        )
    return ""


def offered(row: LeakTest, pressure: Quantity) -> tuple[dict[str, str], str, str]:
    """Leakage that a flow test at a pressure starts with.

    Returns
    -------
    keys of the session file's bench, the leakage's standard uncertainty, and where it comes from
    """
    leak_curve = curve_of(row)
    leakage = f"{leak_curve.at(pressure.si):.3g} {row.leakage_unit}"
    bench = {"leakage": leakage, "leakage_pressure": pressure.text}
    standard = f"{leak_curve.standard(pressure.si):.2g} {row.leakage_unit}"
    numbers = {
        "leakage": leakage,
        "standard": standard,
        "day": row.made_on,
        "pressure": pressure,
    }
    source = (
        gettext(
            "Leakage {leakage}, standard uncertainty {standard}: from the leak test of {day} at "
            "{pressure}.",
            **numbers,
        )
        if leak_curve.covers(pressure.si)
        else gettext(
            "Leakage {leakage}, standard uncertainty {standard}: from the leak test of {day} at "
            "{pressure}, beyond the pressures it was measured at.",
            **numbers,
        )
    )
    return bench, standard, source
