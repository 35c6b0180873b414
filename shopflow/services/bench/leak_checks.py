"""Leak checks: a range's leakage read once, held against its leak test and used that day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import hypot, sqrt
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.leakage import LeakageCurve
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchRange, LeakCheck, LeakTest, ReadingKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import leak_tests
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitError, from_si, parse

SPECIFICATION: fields.Specification = {
    "pressure": fields.quantity("pressure", required=True, above=0.0),
    "leakage": fields.text(required=True, most=60),
    "notes": fields.words(),
}
COVERAGE = 2.0


def record(db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]) -> LeakCheck:
    """Record the leakage of a range, typed as its scale reads. Raises ValidationError."""
    clean = fields.require(SPECIFICATION, values, "pressure", "leakage")
    clean["leakage"] = _indicated(bench_range, clean["leakage"])
    row = LeakCheck(at=by.at, person_id=by.person_id, **clean)
    bench_range.leak_checks.append(row)
    note = gettext("{leakage} at {pressure}", leakage=row.leakage, pressure=row.pressure)
    audit_log.record(db, by, row, "tested for leaks", note=note)
    return row


def expected(row: LeakCheck) -> tuple[float, float] | None:
    """Leakage by the latest leak test before a check, and its standard uncertainty, m3/s.

    None without a leak test, or of one in another kind of unit.
    """
    test = _test_before(row)
    if test is None:
        return None
    curve: LeakageCurve = leak_tests.curve_of(test)
    scale = _scale(row.range, test.leakage_unit)
    if scale is None:
        return None
    return scale * curve.at(row.pressure.si), scale * curve.standard(row.pressure.si)


def fault(row: LeakCheck) -> str:
    """Fault of a check: more leakage than the leak test and one division allow; else empty."""
    usual = expected(row)
    if usual is None:
        return ""
    division = row.range.division
    step = _division(row.range, division) if division is not None else 0.0
    allowed = COVERAGE * hypot(usual[1], step / sqrt(12.0))
    if abs(row.leakage.si - usual[0]) <= allowed:
        return ""
    if row.leakage.si < usual[0]:
        return gettext("less leakage than by the leak test")
    return gettext("more leakage than by the leak test")


def of_day(db: Session, bench_range: BenchRange, day: date) -> LeakCheck | None:
    """The latest leak check of a range on a day; None where there is none."""
    hours = zone(get_shop(db))
    rows = [row for row in bench_range.leak_checks if row.at.astimezone(hours).date() == day]
    return rows[-1] if rows else None


def offered(row: LeakCheck) -> tuple[dict[str, str], str, str]:
    """Leakage that a flow test of the day starts with: see `leak_tests.offered`.

    The standard uncertainty is empty where neither a leak test nor the scale's division says it.
    """
    bench = {"leakage": row.leakage.text, "leakage_pressure": row.pressure.text}
    usual, division = expected(row), row.range.division
    share = usual[1] / usual[0] if usual and usual[0] else 0.0
    step = _division(row.range, division) / sqrt(12.0) if division is not None else 0.0
    standard = hypot(share * row.leakage.si, step)
    words = _as_read(row, standard) if standard else ""
    source = gettext(
        "Leakage {leakage}: from the leak check of the day at {pressure}.",
        leakage=row.leakage,
        pressure=row.pressure,
    )
    return bench, words, source


def _test_before(row: LeakCheck) -> LeakTest | None:
    tests = [test for test in row.range.leak_tests if test.made_on <= row.at.date()]
    return tests[-1] if tests else None


def _indicated(bench_range: BenchRange, text: str) -> Quantity:
    """A reading as the bench's scale shows it, in m3/s beside the text."""
    try:
        if bench_range.bench.reading is ReadingKind.PERCENT_OF_RANGE:
            if bench_range.full_scale is None:
                raise UnitError(gettext("the range has no flow at 100 %"))
            share = parse(text, "ratio").si
            return _not_negative(Quantity(text, share * bench_range.full_scale.si))
        return _not_negative(parse(text, "volume flow"))
    except UnitError as error:
        raise ValidationError([FieldError("leakage", str(error))]) from None


def _not_negative(reading: Quantity) -> Quantity:
    if reading.si < 0.0:
        raise UnitError(gettext("'{text}' must be 0 or more", text=reading.text))
    return reading


def _scale(bench_range: BenchRange, unit: str) -> float | None:
    """m3/s of one of a leak test's unit; None where the range has no flow at 100 %."""
    if unit == "%":
        return bench_range.full_scale.si / 100.0 if bench_range.full_scale else None
    return parse(f"1 {unit}", "volume flow").si


def _division(bench_range: BenchRange, division: Quantity) -> float:
    """One division of the scale, m3/s."""
    if bench_range.bench.reading is ReadingKind.PERCENT_OF_RANGE and bench_range.full_scale:
        return division.si * bench_range.full_scale.si
    return division.si


def _as_read(row: LeakCheck, flow: float) -> str:
    """A flow in the unit that a check's reading was typed in, as a session file has it."""
    unit = row.leakage.unit
    if unit == "%":
        full = row.range.full_scale
        share = 100.0 * flow / full.si if full else 0.0
        return f"{share:.2g} %"
    return f"{from_si(flow, unit):.2g} {unit}"
