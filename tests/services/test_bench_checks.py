"""Checks of a bench against a plate, and what the floor is told of them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import ValidationError
from shopflow.models import BenchRange
from shopflow.services.actor import Actor
from shopflow.services.bench import bench_checks, benches, calibrations
from tests import factories

BY = factories.BY


@pytest.fixture
def calibrated_range(db: Session) -> BenchRange:
    """A range of a bench that reads flow, with a calibration in force."""
    factories.create_shop(db)
    bench = benches.create(db, BY, {"name": "North", "reading": "volume flow"})
    range_ = benches.add_range(db, BY, bench, {"name": "whole"})
    day = BY.at.date()
    values = {"identifier": "N-1", "factor": "1.01", "expanded_uncertainty": "1 %"}
    calibrations.calibrate(
        db, BY, range_, {**values, "made_on": day, "due_on": day + timedelta(days=365)}
    )
    return range_


def checked(db: Session, on: BenchRange, indicated: str, days: int = 0):
    """A check against a plate of 200 cfm."""
    by = Actor(None, BY.at + timedelta(days=days))
    values = {"plate": "plate 2", "expected": "200 cfm", "indicated": indicated}
    return bench_checks.check(db, by, on, values)


def test_a_check_keeps_what_was_typed_and_the_factor_in_force(
    db: Session, calibrated_range: BenchRange
) -> None:
    row = checked(db, calibrated_range, "198.0 cfm")
    assert row.indicated.text == "198.0 cfm"
    assert str(row.factor) == "1.01"
    assert row.ratio == pytest.approx(1.01 * 198 / 200)


def test_a_bench_read_in_percent_is_checked_in_percent(db: Session) -> None:
    factories.create_shop(db)
    bench = benches.create(db, BY, {"name": "South", "reading": "percent of range"})
    low = benches.add_range(db, BY, bench, {"name": "low", "full_scale": "400 cfm"})
    row = checked(db, low, "50.5 %")
    assert row.ratio == pytest.approx(202 / 200)
    with pytest.raises(ValidationError, match="not of ratio"):
        checked(db, low, "200 cfm")


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"plate": ""}, "plate"),
        ({"expected": "0 cfm"}, "expected"),
        ({"expected": "200"}, "expected"),
        ({"indicated": "0 cfm"}, "indicated"),
        ({"indicated": "198"}, "indicated"),
        ({"indicated": "50 %"}, "indicated"),
    ],
)
def test_faults_are_at_their_fields(
    db: Session, calibrated_range: BenchRange, values: dict[str, str], key: str
) -> None:
    good = {"plate": "plate 2", "expected": "200 cfm", "indicated": "198 cfm"}
    with pytest.raises(ValidationError) as refused:
        bench_checks.check(db, BY, calibrated_range, {**good, **values})
    assert [fault.key for fault in refused.value.faults] == [key]
    assert calibrated_range.checks == []


def test_the_floor_is_told_of_a_drift_and_of_an_overdue_calibration(
    db: Session, calibrated_range: BenchRange
) -> None:
    for day, typed in enumerate(["198.0", "198.5", "197.5", "198.0", "198.5", "198.0"]):
        checked(db, calibrated_range, f"{typed} cfm", day)
    today = BY.at.date()
    assert bench_checks.concerns(db, today) == []
    checked(db, calibrated_range, "206 cfm", 7)
    assert bench_checks.concerns(db, today) == [
        "North, range whole: its last check on plate 2 is outside its control limits"
    ]
    late = bench_checks.concerns(db, today + timedelta(days=366))
    assert any("its calibration fell due" in words for words in late)


def test_each_plate_has_its_own_chart_and_a_calibration_begins_a_new_baseline(
    db: Session, calibrated_range: BenchRange
) -> None:
    for day, typed in enumerate(["198.0", "198.5", "197.5", "198.0"]):
        checked(db, calibrated_range, f"{typed} cfm", day)
    other = {"plate": "plate 3", "expected": "100 cfm", "indicated": "103.0 cfm"}
    bench_checks.check(db, Actor(None, BY.at + timedelta(days=5)), calibrated_range, other)
    two, three = bench_checks.drifts(calibrated_range)
    assert (two.plate, len(two.checks), three.plate, three.chart) == ("plate 2", 4, "plate 3", None)
    assert two.chart is not None
    assert two.calibration is calibrated_range.calibrations[0]
    anew = BY.at.date() + timedelta(days=10)
    values = {"identifier": "N-2", "expanded_uncertainty": "1 %", "made_on": anew, "factor": "1.02"}
    calibrations.calibrate(db, BY, calibrated_range, values)
    checked(db, calibrated_range, "196 cfm", 11)
    two = bench_checks.drifts(calibrated_range)[0]
    assert two.calibration is not None
    assert two.calibration.identifier == "N-2"
    assert (len(two.checks), two.chart) == (1, None)
