"""Calibrations by points and leak tests of a range."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.errors import NotFoundError
from shopflow.models import BenchRange
from shopflow.services.actor import Actor
from shopflow.services.bench import (
    bench_checks,
    bench_records,
    calibration_points,
    calibrations,
    leak_tests,
    sessions,
)
from shopflow.units import parse
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.services.expecting import assert_logged, faults_at

CFM = 0.3048**3 / 60.0
ROWS = (
    ("20", "19.6", "2.0"),
    ("60", "60.1", "1"),
    ("100", "101.0", "1.0"),
    ("140.0", "142.2", "1"),
)


def points(*rows: tuple[str, str, str]) -> list[dict[str, str]]:
    names = ("reading", "flow", "uncertainty")
    return [dict(zip(names, row, strict=True)) for row in rows]


CALIBRATION: dict[str, Any] = {
    "identifier": "N-1", "made_on": "2026-01-05", "model": "line", "reading_unit": "cfm",
    "flow_unit": "cfm", "points": points(*ROWS),
}  # fmt: skip


@pytest.fixture
def scale(db: Session) -> BenchRange:
    """The range of a bench read in volume flow."""
    return factories.create_bench(db).ranges[0]


def test_points_are_kept_as_typed_and_what_they_share_may_be_left_empty(
    db: Session, by: Actor, scale: BenchRange
):
    blank = {"reading": "", "flow": " ", "uncertainty": ""}
    typed = [blank, *points(*ROWS[:2]), blank, *points(*ROWS[2:])]
    row = calibrations.calibrate(db, by, scale, {**CALIBRATION, "points": typed})
    assert_logged(db, row, by, "calibrated")
    db.flush()
    db.expire_all()
    assert [str(number) for number in row.readings] == ["20", "60", "100", "140.0"]
    assert [str(number) for number in row.uncertainties] == ["2.0", "1", "1.0", "1"]
    assert row.expanded_uncertainty.text == "0 %"
    assert row.factor == 1
    assert calibration_points.as_typed(row)["calibration_readings"] == "20, 60, 100, 140.0"
    assert calibrations.get_calibration(db, row.id) is row
    with pytest.raises(NotFoundError):
        calibrations.get_calibration(db, 4711)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"points": []}, "points-0-reading"),
        ({"model": "", "expanded_uncertainty": "1 %"}, "model"),
        ({"model": "circle"}, "model"),
        ({"factor": "1.02"}, "factor"),
        ({"reading_unit": "%"}, "reading_unit"),
        ({"flow_unit": ""}, "flow_unit"),
        ({"points": points(*ROWS[:2])}, "points-0-reading"),
        ({"points": points(ROWS[0], ("60", "", "1"), *ROWS[2:])}, "points-1-flow"),
        ({"points": points(ROWS[0], ("60", "sixty", "1"), *ROWS[2:])}, "points-1-flow"),
        ({"points": points(ROWS[0], ("60", "NaN", "1"), *ROWS[2:])}, "points-1-flow"),
        ({"points": points(ROWS[0], ("1e9999", "60", "1"), *ROWS[2:])}, "points-1-reading"),
        ({"points": points(*ROWS, ("9", "150", "1"))}, "points-4-reading"),
        ({"points": points(*ROWS, ("160", "161", "0"))}, "points-4-uncertainty"),
        ({"points": points(("20", "99", "1"), ("60", "60", "1"), ("99", "9", "1"))},
         "points-0-reading"),
    ],
)  # fmt: skip
def test_points_that_cannot_be_are_refused_at_their_cell(
    sqlite_db: Session, by: Actor, changed: dict[str, Any], field: str
):
    scale = factories.create_bench(sqlite_db).ranges[0]
    with faults_at(field):
        calibrations.calibrate(sqlite_db, by, scale, {**CALIBRATION, **changed})


def test_a_calibration_by_a_factor_still_needs_its_uncertainty(
    db: Session, by: Actor, scale: BenchRange
):
    with faults_at("expanded_uncertainty"):
        calibrations.calibrate(db, by, scale, {"identifier": "N-2", "made_on": "2026-01-05"})
    row = calibrations.calibrate(
        db, by, scale,
        {"identifier": "N-2", "made_on": "2026-01-05", "expanded_uncertainty": "1 %",
         "model": "", "points": points(("", "", ""))},
    )  # fmt: skip
    assert row.readings == ()
    assert calibration_points.curve_of_calibration(row) is None
    assert set(calibration_points.as_typed(row).values()) == {""}


def test_a_check_counts_by_the_points_at_what_the_bench_showed(
    db: Session, by: Actor, scale: BenchRange
):
    """By hand: the line's value at 80 over 80."""
    row = calibrations.calibrate(db, by, scale, CALIBRATION)
    curve = calibration_points.curve_of_calibration(row)
    assert curve is not None
    answer = bench_checks.check(
        db, by, scale, {"plate": "2", "expected": "80.4 cfm", "indicated": "80 cfm"}
    )
    wanted = float(curve.true_flow(80 * CFM)) / (80 * CFM)
    assert float(answer.factor) == pytest.approx(wanted, abs=1e-6)
    assert answer.ratio == pytest.approx(wanted * 80 / 80.4, abs=1e-6)


def test_a_test_by_points_comes_back_to_the_last_digit_and_finds_its_calibration(
    db: Session, by: Actor, scale: BenchRange
):
    calibration = calibrations.calibrate(db, by, scale, CALIBRATION)
    lines = {
        "name": f'"{scale.bench.name}"', "calibration_id": '"N-1"', "calibration_model": '"line"',
        "calibration_reading_unit": '"cfm"', "calibration_readings": "[20, 60.0, 100, 1.40e2]",
        "calibration_flow_unit": '"cfm"', "calibration_flows": "[19.6, 60.1, 101.00, 142.2]",
        "calibration_uncertainties": "[2.0, 1, 1.0, 1]",
    }  # fmt: skip
    matches = [
        line for line in INTAKE_US.splitlines() if not line.startswith(("name", "calibration_"))
    ]
    place = matches.index("[bench]") + 1
    matches[place:place] = [f"{name} = {value}" for name, value in lines.items()]
    matches.insert(matches.index("[uncertainty]") + 1, 'throat_diameter = "0.0040 in"')
    document = testfile.loads("\n".join(matches))
    row = sessions.store(db, by, factories.create_visit(db), document)
    db.flush()
    db.expire_all()
    assert sessions.document(row) == document
    assert row.calibration is calibration
    assert "calibration_flows = [19.6, 60.1, 101.00, 142.2]" in testfile.dumps(
        sessions.document(row)
    )


LEAK: dict[str, Any] = {
    "made_on": "2026-01-05", "expanded_uncertainty": "6 %", "pressure_unit": "inH2O",
    "leakage_unit": "cfm", "notes": "",
    "points": [
        {"pressure": "10", "leakage": "0.36"},
        {"pressure": "", "leakage": ""},
        {"pressure": "20.0", "leakage": "0.51"},
        {"pressure": "28", "leakage": "0.61"},
    ],
}  # fmt: skip


def test_a_new_test_starts_with_the_leakage_at_its_own_pressure(
    db: Session, by: Actor, scale: BenchRange
):
    row = leak_tests.record(db, by, scale, LEAK)
    assert_logged(db, row, by, "tested for leaks")
    db.flush()
    db.expire_all()
    assert row.pressures == (Decimal(10), Decimal("20.0"), Decimal(28))
    curve = leak_tests.curve_of(row)
    record = bench_records.of_range(db, scale, "15 inH2O")
    wanted = curve.at(parse("15 inH2O", "pressure").si)
    leakage = parse(record.bench["leakage"], "volume flow")
    assert leakage.si / CFM == pytest.approx(wanted, rel=0.01)
    assert 0.36 < wanted < 0.51
    assert record.bench["leakage_pressure"] == "15 inH2O"
    standard = parse(record.uncertainty["leakage"], "volume flow").si / CFM
    assert standard == pytest.approx(curve.standard(15 * 249.08891), rel=0.05)
    assert "from the leak test of 2026-01-05 at 15 inH2O" in " ".join(record.sources)
    beyond = bench_records.of_range(db, scale, "40 inH2O")
    assert "beyond the pressures it was measured at" in " ".join(beyond.sources)
    assert "leakage" not in bench_records.of_range(db, scale, "forty").bench


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"made_on": ""}, "made_on"),
        ({"expanded_uncertainty": "0 %"}, "expanded_uncertainty"),
        ({"pressure_unit": "furlong"}, "pressure_unit"),
        ({"leakage_unit": "%"}, "leakage_unit"),
        ({"points": []}, "points-0-pressure"),
        ({"points": LEAK["points"][:1]}, "points-0-pressure"),
        ({"points": [{"pressure": "10", "leakage": "none"}]}, "points-0-leakage"),
        ({"points": [{"pressure": "10", "leakage": "0"}]}, "points-0-leakage"),
        ({"points": [LEAK["points"][2], LEAK["points"][0]]}, "points-1-pressure"),
    ],
)
def test_a_leak_test_that_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, changed: dict[str, Any], field: str
):
    scale = factories.create_bench(sqlite_db).ranges[0]
    with faults_at(field):
        leak_tests.record(sqlite_db, by, scale, {**LEAK, **changed})
