"""A bench's day, its leak checks and exchanged plates, on both databases."""

from __future__ import annotations

import dataclasses
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.estimates import Input
from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.models import Bench, BenchRange
from shopflow.services.actor import Actor
from shopflow.services.bench import (
    bench_checks,
    bench_days,
    bench_records,
    benches,
    leak_checks,
    leak_tests,
    plate_exchanges,
)
from shopflow.services.shop import settings
from shopflow.testfile import loads
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.unit.calc.test_area_gain import AFTER, a_test

TODAY = factories.NOW.date()
PLATE = {"plate": "plate 2", "expected": "100.0 cfm"}


@pytest.fixture
def bench(db: Session) -> Bench:
    factories.create_shop(db)
    return factories.create_bench(db)


def at(by: Actor, **shift: float) -> Actor:
    return dataclasses.replace(by, at=by.at + timedelta(**shift))


def checked(db: Session, by: Actor, scale: BenchRange, *readings: str) -> None:
    """A check a day, the last one today."""
    for number, reading in enumerate(readings, start=1 - len(readings)):
        bench_checks.check(db, at(by, days=number), scale, {**PLATE, "indicated": reading})


def test_a_day_says_what_is_missing_until_all_is_done(db: Session, by: Actor, bench: Bench) -> None:
    (scale,) = bench.ranges
    assert bench_days.missing(db, bench, TODAY) == [
        "warm-up", "leak check of range whole scale", "plate check of range whole scale",
    ]  # fmt: skip
    bench_days.warm_up(db, by, bench, TODAY, {"minutes": "25"})
    leak_checks.record(db, by, scale, {"pressure": "28 inH2O", "leakage": "0.6 cfm"})
    assert bench_days.missing_of_range(db, scale, TODAY)
    checked(db, by, scale, "99.6 cfm")
    day = bench_days.of_bench(db, bench, TODAY)
    assert (day.missing, day.has_begun) == ([], True)
    assert not bench_days.missing_of_range(db, scale, TODAY)
    assert len(bench_days.of_bench(db, bench, TODAY + timedelta(days=1)).missing) == 3
    assert not bench_days.of_bench(db, bench, TODAY - timedelta(days=1)).has_begun


def test_the_reminder_is_settable_off_and_leaves_idle_benches_alone(
    db: Session, by: Actor, bench: Bench
) -> None:
    benches.change(db, by, bench, {"active": False})
    assert bench_days.missing(db, bench, TODAY) == []
    benches.change(db, by, bench, {"active": True})
    settings.change(db, by, settings.get_shop(db), {"bench_day_reminder": False})
    assert bench_days.missing(db, bench, TODAY) == []
    assert not bench_days.missing_of_range(db, bench.ranges[0], TODAY)


def test_a_day_is_warmed_up_once(db: Session, by: Actor, bench: Bench) -> None:
    bench_days.warm_up(db, by, bench, TODAY, {"minutes": "25"})
    with pytest.raises(RuleError):
        bench_days.warm_up(db, by, bench, TODAY, {"minutes": "25"})
    with pytest.raises(ValidationError):
        bench_days.warm_up(db, by, bench, TODAY + timedelta(days=1), {"minutes": "0"})


@pytest.mark.parametrize(
    ("typed", "key"),
    [({"pressure": "28"}, "pressure"), ({"leakage": "much"}, "leakage"), ({"leakage": "-1 cfm"},
     "leakage"), ({"leakage": ""}, "leakage")],
)  # fmt: skip
def test_a_leak_check_that_cannot_be_is_refused_at_its_field(
    db: Session, by: Actor, bench: Bench, typed: dict[str, str], key: str
) -> None:
    values = {"pressure": "28 inH2O", "leakage": "0.6 cfm", **typed}
    with pytest.raises(ValidationError) as refused:
        leak_checks.record(db, by, bench.ranges[0], values)
    assert [fault.key for fault in refused.value.faults] == [key]


def test_a_leak_check_is_held_to_the_leak_test_and_used_that_day(
    db: Session, by: Actor, bench: Bench
) -> None:
    (scale,) = bench.ranges
    leak_tests.record(db, by, scale, {
        "made_on": TODAY, "pressure_unit": "inH2O", "leakage_unit": "cfm",
        "expanded_uncertainty": "10 %", "notes": "",
        "points": [{"pressure": "10", "leakage": "0.48"}, {"pressure": "28", "leakage": "0.80"}],
    })  # fmt: skip
    good = leak_checks.record(db, by, scale, {"pressure": "28 inH2O", "leakage": "0.82 cfm"})
    assert leak_checks.fault(good) == ""
    record = bench_records.of_range(db, scale, "28 inH2O", TODAY)
    assert record.bench["leakage"] == "0.82 cfm"
    assert record.uncertainty["leakage"] == "0.041 cfm"
    bad = leak_checks.record(db, by, scale, {"pressure": "28 inH2O", "leakage": "1.4 cfm"})
    assert leak_checks.fault(bad) == "more leakage than by the leak test"
    assert bench_days.of_bench(db, bench, TODAY).ranges[0].leak_fault
    # Tomorrow it is the leak test that counts again.
    later = bench_records.of_range(db, scale, "28 inH2O", TODAY + timedelta(days=1))
    assert later.bench["leakage"] == "0.8 cfm"


def test_a_percent_scale_is_checked_in_percent(db: Session, by: Actor) -> None:
    factories.create_shop(db)
    bench = factories.create_bench(db, reading="percent of range")
    row = leak_checks.record(db, by, bench.ranges[0], {"pressure": "28 inH2O", "leakage": "0.5 %"})
    assert row.leakage.si == pytest.approx(0.6 * 4.719474e-4)
    assert leak_checks.fault(row) == ""


def test_todays_plate_check_gives_tests_the_day_to_day_scatter(
    db: Session, by: Actor, bench: Bench
) -> None:
    (scale,) = bench.ranges
    checked(db, by, scale, "99.5 cfm", "100.5 cfm", "100.0 cfm", "100.2 cfm")
    drift = bench_checks.drifts(scale)[0]
    assert drift.chart is not None
    record = bench_records.of_range(db, scale, "28 inH2O", TODAY)
    stated = float(record.uncertainty["day"].removesuffix(" %")) / 100.0
    assert stated == pytest.approx(drift.chart.deviation, rel=0.01)
    # Without a check of the day nothing is known of the day.
    later = bench_records.of_range(db, scale, "28 inH2O", TODAY + timedelta(days=1))
    assert "day" not in later.uncertainty


def test_the_day_is_shared_by_tests_of_one_bench_and_day_alone() -> None:
    text = INTAKE_US.replace("[uncertainty]", '[uncertainty]\nday = "0.4 %"').replace(
        "schema = 1", "schema = 1\nmeasured_at = 2026-03-05T09:00:00"
    )
    test = loads(text).flow_test()
    assert test.uncertainty.day == pytest.approx(0.004)
    assert test.day_key == ("north", "2026-03-05")
    other = loads(text.replace("2026-03-05", "2026-03-06")).flow_test()
    assert other.day_key != test.day_key
    plain = a_test(AFTER)
    assert not plain.area_errors.relative[Input.DAY].any()
    assert Input.DAY not in plain.area_errors.unknown


def test_an_exchange_has_its_en_number(db: Session, by: Actor, bench: Bench) -> None:
    values = {
        "plate": "plate 2", "other_shop": "Tarn Heads", "measured_on": "2026-02-20",
        "pressure": "28 inH2O", "own_flow": "212.4 cfm", "own_uncertainty": "1.2 %",
        "their_flow": "210.0 cfm", "their_uncertainty": "1.0 %", "notes": "",
    }  # fmt: skip
    row = plate_exchanges.record(db, by, bench.ranges[0], values)
    expected = 2.4 / ((0.012 * 212.4) ** 2 + (0.010 * 210.0) ** 2) ** 0.5
    assert plate_exchanges.score(row) == pytest.approx(expected, rel=1e-12)
    assert plate_exchanges.verdict(row).startswith("satisfactory")
    far = plate_exchanges.record(db, by, bench.ranges[0], {**values, "their_flow": "200 cfm"})
    assert plate_exchanges.verdict(far).startswith("not satisfactory")
    assert plate_exchanges.get(db, row.id) is row
    with pytest.raises(NotFoundError):
        plate_exchanges.get(db, 99999)
    with pytest.raises(ValidationError) as refused:
        plate_exchanges.record(db, by, bench.ranges[0], {**values, "measured_on": "2099-01-01"})
    assert [fault.key for fault in refused.value.faults] == ["measured_on"]
