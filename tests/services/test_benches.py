"""Benches, their ranges and calibrations."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import BenchRange
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, calibrations
from tests import factories
from tests.services.expecting import assert_logged, faults_at

CALIBRATION = {
    "identifier": "NB-2025", "factor": "1.0110", "expanded_uncertainty": "1.2 %",
    "made_on": "2025-10-13", "due_on": "2026-10-13", "reference": "plate 2",
}  # fmt: skip


@pytest.fixture
def scale(db: Session) -> BenchRange:
    """The range of a bench read in volume flow."""
    return factories.create_bench(db).ranges[0]


def test_a_bench_with_its_ranges_is_listed_by_name(db: Session, by: Actor):
    south = factories.create_bench(db, name="South", reading="percent of range")
    north = factories.create_bench(db, name="North")
    assert benches.list_all(db) == [north, south]
    assert benches.by_name(db, "South") is south
    assert benches.by_name(db, "West") is None
    assert benches.get(db, south.id) is south
    (only,) = south.ranges
    assert benches.get_range(db, only.id) is only
    assert only.full_scale is not None
    assert only.full_scale.text == "120 cfm"
    assert_logged(db, south, by, "added")
    for find in (benches.get, benches.get_range):
        with pytest.raises(NotFoundError):
            find(db, 4711)


def test_names_are_given_once(db: Session, by: Actor, scale: BenchRange):
    with faults_at("name"):
        benches.create(db, by, {"name": scale.bench.name})
    with faults_at("name"):
        benches.add_range(db, by, scale.bench, {"name": scale.name})
    other = factories.create_bench(db)
    with faults_at("name"):
        benches.change(db, by, other, {"name": scale.bench.name})
    benches.change(db, by, other, {"name": other.name, "active": False})
    assert_logged(db, other, by, "changed", active=["True", "False"])


def test_faults_come_at_their_fields(db: Session, by: Actor, scale: BenchRange):
    with faults_at("name", "reading"):
        benches.create(db, by, {"name": "", "reading": "litres"})
    percent = factories.create_bench(db, reading="percent of range")
    with faults_at("full_scale"):
        benches.add_range(db, by, percent, {"name": "high"})
    with faults_at("full_scale"):
        benches.add_range(db, by, percent, {"name": "high", "full_scale": "0 cfm"})
    with faults_at("identifier", "expanded_uncertainty", "made_on"):
        calibrations.calibrate(db, by, scale, {})


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("factor", "0"),
        ("factor", "-1"),
        ("factor", "one"),
        ("factor", "1." + "0" * 60),
        ("expanded_uncertainty", "-1 %"),
        ("expanded_uncertainty", "1.2"),
        ("made_on", "last week"),
        ("due_on", "2025-10-12"),
        ("identifier", "x" * 61),
    ],
)
def test_a_calibration_that_cannot_be_is_refused(
    sqlite_db: Session, by: Actor, field: str, value: str
):
    scale = factories.create_bench(sqlite_db).ranges[0]
    with faults_at(field):
        calibrations.calibrate(sqlite_db, by, scale, {**CALIBRATION, field: value})


def test_the_calibration_in_force_is_the_last_one_made_by_the_day(
    db: Session, by: Actor, scale: BenchRange
):
    later = calibrations.calibrate(
        db, by, scale,
        {**CALIBRATION, "identifier": "NB-2026", "made_on": "2026-10-12", "due_on": ""},
    )  # fmt: skip
    first = calibrations.calibrate(db, by, scale, CALIBRATION)
    assert_logged(db, first, by, "calibrated")
    db.flush()
    db.expire_all()
    assert first.factor == Decimal("1.0110")
    assert str(first.factor) == "1.0110"
    assert scale.calibration_on(date(2025, 10, 12)) is None
    assert scale.calibration_on(date(2025, 10, 13)) is first
    assert scale.calibration_on(date(2026, 10, 11)) is first
    assert scale.calibration_on(date(2026, 10, 12)) is later
    assert not first.is_overdue(date(2026, 10, 13))
    assert first.is_overdue(date(2026, 10, 14))
    assert not later.is_overdue(date(2099, 1, 1))
    with faults_at("identifier"):
        calibrations.calibrate(db, by, scale, CALIBRATION)
