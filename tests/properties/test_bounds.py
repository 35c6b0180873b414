"""Properties of every test: bounds, relations between results, symmetry of comparisons."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.areas import Valve, least_valve_area, port_area_at_stem
from shopflow.calc.comparison import compare
from shopflow.calc.control import control_chart
from shopflow.calc.curve import mean_over_lift
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import reduce
from shopflow.calc.sanity import comparison_warnings
from tests.optional import present
from tests.properties.sessions import flow_tests, valves

LIKE = 1e-12


@given(flow_tests())
def test_coefficients_on_head_and_curtain_belong_together(test: FlowTest) -> None:
    """Head-area coefficient = curtain coefficient × 4 L/D, by their definitions."""
    reduction = reduce(test)
    expected = reduction.cd_curtain * 4.0 * reduction.lift_over_diameter
    assert reduction.cd_head == pytest.approx(expected, rel=LIKE)


@given(valves(), st.floats(0.001, 1.0))
def test_the_least_area_is_never_more_than_the_port(valve: Valve, share: float) -> None:
    assert valve.seat is not None
    seat, head = valve.seat, valve.head_diameter
    port = float(port_area_at_stem(seat.throat_diameter, seat.stem_diameter))
    assert 0.0 < float(least_valve_area(head, seat, share * head)) <= port


@given(flow_tests())
def test_the_combined_uncertainty_is_at_least_each_component(test: FlowTest) -> None:
    budget = reduce(test).budget
    parts = [budget.runs, budget.calibration, budget.pressure, budget.lift, budget.element]
    for part in (*parts, budget.common, budget.own):
        assert (budget.combined >= part * (1 - LIKE)).all()
    assert (budget.combined <= sum(parts) * (1 + LIKE)).all()
    together = np.hypot(budget.own, budget.common)
    assert budget.combined == pytest.approx(together, rel=LIKE)


@given(flow_tests())
def test_the_mean_lies_between_the_least_and_the_most(test: FlowTest) -> None:
    reduction = reduce(test)
    assert (
        reduction.flow.min() * (1 - LIKE)
        <= reduction.mean_flow
        <= reduction.flow.max() * (1 + LIKE)
    )
    areas, curve = reduction.effective_area, reduction.curve
    assert areas.min() * (1 - LIKE) <= curve.mean <= areas.max() * (1 + LIKE)
    assert curve.peak == areas.max()


@given(flow_tests())
def test_points_are_the_arrays_row_by_row(test: FlowTest) -> None:
    reduction = reduce(test)
    assert [point.flow for point in reduction.points] == reduction.flow.tolist()
    assert [point.cd_least_area for point in reduction.points] == present(
        reduction.cd_least_area
    ).tolist()
    assert [point.runs for point in reduction.points] == [len(runs) for runs in test.runs]


@given(flow_tests())
def test_a_session_against_itself_gains_nothing(test: FlowTest) -> None:
    reduction = reduce(test)
    both = compare(reduction, reduction)
    assert len(both.points) == len(test.lifts)
    assert all(point.gain == 0.0 and point.gain_percent == 0.0 for point in both.points)
    assert not any(point.significant for point in both.points)
    assert both.mean_gain_percent == pytest.approx(0.0, abs=1e-10)
    assert comparison_warnings(reduction, reduction) == []


keys = st.sampled_from([None, ("north", "N-7")])


@given(flow_tests(steps=4), st.data(), keys)
def test_a_gain_one_way_is_the_loss_the_other(
    test: FlowTest, data: st.DataObject, key: tuple[str, str] | None
) -> None:
    other = dataclasses.replace(
        data.draw(flow_tests(steps=4)), lifts=test.lifts, calibration_key=key,
        uncertainty=test.uncertainty,
    )  # fmt: skip
    item, two = reduce(dataclasses.replace(test, calibration_key=key)), reduce(other)
    there, back = compare(item, two), compare(two, item)
    for mine, theirs in zip(there.points, back.points, strict=True):
        assert mine.gain == -theirs.gain
        assert (mine.before, mine.after) == (theirs.after, theirs.before)
        assert mine.gain_expanded_uncertainty == pytest.approx(
            theirs.gain_expanded_uncertainty, rel=1e-9
        )
        assert mine.significant == theirs.significant
    gains = (present(answer.mean_gain_percent) for answer in (there, back))
    product = math.prod(1 + gain / 100 for gain in gains)
    assert product == pytest.approx(1.0, rel=1e-9)


@given(st.lists(st.integers(-50, 50), min_size=3, max_size=20), st.integers(1, 10))
def test_a_control_chart_moves_with_its_values(values: list[int], scale: int) -> None:
    here = control_chart([float(value) for value in values], division=1.0)
    there = control_chart([float(8 * scale * value) for value in values], division=8.0 * scale)
    assert here is not None
    assert there is not None
    assert (here.outside, here.runs) == (there.outside, there.runs)
    assert there.centre == pytest.approx(8 * scale * here.centre, rel=1e-9, abs=1e-9)
    low, high = here.next_limits
    assert there.next_limits == pytest.approx((8 * scale * low, 8 * scale * high), rel=1e-9)
    assert low <= here.centre <= high


@given(st.lists(st.floats(0.01, 5.0), min_size=2, max_size=9).map(np.cumsum), st.floats(-9, 9))
def test_the_mean_of_a_straight_line_is_its_middle(lifts: np.ndarray, gradient: float) -> None:
    middle = (lifts[0] + lifts[-1]) / 2.0
    answer = mean_over_lift(lifts, 3.0 + gradient * lifts)
    assert answer == pytest.approx(3.0 + gradient * middle, rel=1e-9, abs=1e-9)
