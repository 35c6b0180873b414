"""Records of a range: its division, its gauge, and its repeatability."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import sqrt

import numpy as np
import pytest
from scipy import stats
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.repeatability import pooled_repeatability
from shopflow.models import BenchRange
from shopflow.services.bench import bench_records, benches, calibrations, sessions
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.factories import BY
from tests.services.expecting import faults_at
from tests.unit.calc.sessions import flow_test


def a_range(db: Session, reading: str = "volume flow") -> BenchRange:
    factories.shop_or_none(db)
    return factories.create_bench(db, reading=reading).ranges[0]


def test_pooled_repeatability_is_that_of_known_truth() -> None:
    """Tests scattered by 0.4 % of each reading, pooled as JCGM 100 H.3.6 has it, by NumPy."""
    rng = np.random.default_rng(20261128)
    levels = np.array([26, 56, 95, 128, 153, 168, 175]) * 4.719474e-4
    tests, squares, freedom = [], 0.0, 0
    for repeats in (2, 3, 2, 4, 3):
        runs = levels[:, None] * rng.normal(1.0, 0.004, (7, repeats))
        squares += float((((runs / runs.mean(1, keepdims=True)) - 1.0) ** 2).sum())
        freedom += 7 * (repeats - 1)
        tests.append(flow_test(runs=tuple(map(tuple, runs.tolist()))))
    answer = pooled_repeatability(tests)
    assert answer is not None
    assert (answer.freedom, answer.tests) == (freedom, 5)
    assert answer.relative == pytest.approx(sqrt(squares / freedom), rel=1e-9)
    low, high = (sqrt(stats.chi2.ppf(p, freedom) / freedom) * 0.004 for p in (0.001, 0.999))
    assert low < answer.relative < high
    wide = stats.t.ppf(0.975, freedom) / stats.norm.ppf(0.975)
    assert answer.as_known == pytest.approx(answer.relative * wide, rel=1e-6)


def test_a_history_of_few_or_identical_repeats_says_nothing() -> None:
    alike = flow_test(runs=tuple((flow, flow) for flow in np.linspace(0.01, 0.08, 7).tolist()))
    assert pooled_repeatability([alike] * 5) is None
    assert pooled_repeatability([flow_test()]) is None
    assert pooled_repeatability([flow_test()] * 2) is not None


def test_a_new_test_starts_with_the_division_and_the_gauge_of_its_range(db: Session) -> None:
    row = a_range(db)
    assert bench_records.of_range(db, row).sources == []
    values = {"division": "0.5 cfm", "gauge_mark": "G-2", "gauge_accuracy": "0.5 %"}
    benches.change_record(db, BY, row, values)
    record = bench_records.of_range(db, row)
    assert record.bench == {"gauge_id": "G-2"}
    # A rectangle of half width 0.5 % has a standard deviation of 0.5 %/sqrt(3) (JCGM 100, 4.3.7).
    assert record.uncertainty == {"resolution": "0.5 cfm", "pressure": "0.289 %"}
    assert "certificate of gauge G-2" in record.sources[1]


@pytest.mark.parametrize(
    ("reading", "good", "bad"),
    [
        ("volume flow", "0.5 cfm", "0.5 %"),
        ("percent of range", "0.5 %", "0.5 cfm"),
        ("volume flow", "", "0 cfm"),
    ],
)
def test_a_division_is_typed_as_the_scale_reads(
    db: Session, reading: str, good: str, bad: str
) -> None:
    row = a_range(db, reading)
    benches.change_record(db, BY, row, {"division": good})
    assert (row.division.text if row.division else "") == good
    with faults_at("division"):
        benches.change_record(db, BY, row, {"division": bad})


def test_repeatability_is_learned_from_the_range_s_own_tests(db: Session) -> None:
    row = a_range(db)
    values = {"identifier": "N-1", "expanded_uncertainty": "1 %", "made_on": BY.at.date()}
    calibrations.calibrate(db, BY, row, values)
    visit = factories.create_visit(db)
    document = testfile.loads(INTAKE_US)
    for place in range(4):
        runs = tuple(
            (Decimal(100 + at), Decimal(100 + at) + Decimal("0.5"))
            for at in range(len(document.lifts))
        )
        test = sessions.store(db, BY, visit, replace(document, flows=runs))
        test.calibration_id = row.calibrations[0].id if place else None
    db.flush()
    answer = bench_records.learned_repeatability(db, row)
    assert answer is not None
    assert (answer.tests, answer.freedom) == (3, 18)
    assert answer.relative == pytest.approx(0.5 / sqrt(2) / 102.75, rel=0.01)
    record = bench_records.of_range(db, row)
    assert record.uncertainty["repeatability"].endswith(" %")
    assert "last 3 tests of this range" in record.sources[-1]
    assert "18 degrees of freedom" in record.sources[-1]
