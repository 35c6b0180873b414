"""Many sessions together give what each gives alone."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.calc import batch_reduction
from shopflow.calc.batch_reduction import reduce_all
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.terms import Terms
from tests.properties.sessions import flow_tests
from tests.unit.calc.sessions import flow_test

FIGURES = [
    field.name for field in dataclasses.fields(Reduction) if field.name not in ("budget", "terms")
]


def workable(test: FlowTest) -> bool:
    """True where a test gives results at all."""
    try:
        reduce(test)
    except ValueError:
        return False
    return True


@given(st.lists(flow_tests().filter(workable), max_size=6))
@settings(max_examples=50)
def test_sessions_of_any_kinds_give_what_each_gives_alone(tests: list[FlowTest]) -> None:
    for answer, alone in zip(reduce_all(tests), map(reduce, tests), strict=True):
        same(answer, alone)
    for curve, alone in zip(reduce_all(tests).curves(), map(reduce, tests), strict=True):
        for name in curve.__slots__:
            cut, wanted = getattr(curve, name), getattr(alone.curve, name)
            np.testing.assert_allclose(cut, wanted, rtol=1e-12, err_msg=name)


def test_sessions_that_state_less_or_more_are_taken_too() -> None:
    plain = flow_test()
    valve = dataclasses.replace(plain.valve, seat=None)
    tests = [
        plain,
        flow_test(valve=valve, port_area=None),
        flow_test(leakage_pressure=7_000.0, air_correction=1.01),
        flow_test(run_pressures=tuple((6_000.0, 6_100.0) for _ in plain.lifts)),
        flow_test(lifts=plain.lifts[:1], runs=plain.runs[:1]),
        plain,
    ]
    for answer, alone in zip(reduce_all(tests), map(reduce, tests), strict=True):
        same(answer, alone)


def test_more_than_one_go_takes_are_in_their_places(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch_reduction, "BLOCK", 3)
    tests = [flow_test(barometer=95e3 + 100.0 * place) for place in range(8)]
    for answer, alone in zip(reduce_all(tests), map(reduce, tests), strict=True):
        same(answer, alone)


def same(reduction: Reduction, other: Reduction) -> None:
    """Every figure, but for the last digits that the order of summing changes."""
    for name in FIGURES:
        answer, wanted = getattr(reduction, name), getattr(other, name)
        if isinstance(wanted, np.ndarray | float):
            np.testing.assert_allclose(answer, wanted, rtol=1e-12, err_msg=name)
        else:
            assert answer == wanted
    for name in Terms.__slots__:
        answer, wanted = getattr(reduction.terms, name), getattr(other.terms, name)
        if wanted is None or name == "by_run":
            assert answer == wanted
        else:
            np.testing.assert_allclose(answer, wanted, rtol=1e-12, err_msg=name)
    for name in reduction.budget.__slots__:
        answer, wanted = getattr(reduction.budget, name), getattr(other.budget, name)
        np.testing.assert_allclose(answer, wanted, rtol=1e-9, atol=1e-15, err_msg=name)
    assert reduction.points[0].runs == other.points[0].runs


def test_none_give_none_and_a_faulty_one_says_so() -> None:
    assert list(reduce_all([])) == []
    with pytest.raises(ValueError, match="air data"):
        reduce_all([flow_test(), flow_test(barometer=-1.0)])
