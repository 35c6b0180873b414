"""Uncertainty of a result, against the examples of JCGM 100:2008 and GTC."""

from __future__ import annotations

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.comparison import compare
from shopflow.calc.reduction import reduce
from shopflow.calc.uncertainty import (
    COVERAGE_FACTOR,
    Uncertainties,
    root_sum_of_squares,
    run_statistics,
)
from tests.unit.calc.sessions import CFM, flow_test, one_lift

# JCGM 100:2008, 4.4.3, table 1.
TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


@pytest.mark.source("JCGM 100:2008, 4.4.3, table 1")
def test_twenty_temperatures_of_the_guide() -> None:
    """Mean 100.145, s 1.48884, u 0.332916; printed there as 100.14, 1.489 and 0.333."""
    answer = run_statistics([TEMPERATURES])
    assert answer.mean[0] == pytest.approx(100.145, abs=5e-7)
    assert answer.standard_error[0] == pytest.approx(0.332916, abs=5.1e-7)
    assert answer.standard_error[0] * 20**0.5 == pytest.approx(1.48884, abs=5.1e-6)


@pytest.mark.source("JCGM 100:2008, G.4.1")
def test_three_relative_components_of_the_guide() -> None:
    """JCGM 100:2008, G.4.1: 0.25, 0.57 and 0.82 % make 1.02947 %, printed as 1.03 %."""
    assert root_sum_of_squares(0.25, 0.57, 0.82) == pytest.approx(1.02947, abs=5.1e-6)


@pytest.mark.source("GTC, type_a.estimate")
def test_repeats_with_another_component_agree_with_gtc() -> None:
    """201.2 ... 201.1: mean 201.1, u 0.122474; with 0.15 of kind B 0.193649."""
    runs = [201.2, 200.8, 201.5, 200.9, 201.1]
    answer = run_statistics([runs])
    by_gtc = GTC.type_a.estimate(runs)
    assert answer.mean[0] == pytest.approx(by_gtc.x, rel=1e-14)
    assert answer.standard_error[0] == pytest.approx(by_gtc.u, rel=1e-10)
    assert answer.standard_error[0] == pytest.approx(0.122474, abs=5.1e-7)
    together = root_sum_of_squares(answer.standard_error[0], 0.15)
    assert together == pytest.approx((by_gtc + GTC.ureal(0, 0.15)).u, rel=1e-10)
    assert together == pytest.approx(0.193649, abs=5.1e-7)


def test_rows_of_any_length_are_kept_apart() -> None:
    answer = run_statistics([[1.0, 3.0], [5.0], [2.0, 2.0, 2.0]])
    assert answer.counts.tolist() == [2, 1, 3]
    assert answer.mean.tolist() == [2.0, 5.0, 2.0]
    assert answer.standard_error.tolist() == [1.0, 0.0, 0.0]


@pytest.mark.source("GTC, the whole formula carried through")
def test_the_budget_of_a_session_agrees_with_gtc() -> None:
    """GTC carries every input's uncertainty through the formula by itself."""
    test = flow_test()
    reduction = reduce(test)
    stated = test.uncertainty
    slopes = np.gradient(reduction.flow, reduction.lifts)
    for index, runs in enumerate(test.runs):
        mean = GTC.type_a.estimate(list(runs))
        factor = GTC.ureal(test.calibration_factor, 0.012 / 2 * test.calibration_factor)
        pressure = GTC.ureal(test.test_pressure, 0.004 * test.test_pressure)
        lift = GTC.ureal(0.0, stated.lift)
        flow = factor * (mean - test.leakage) * GTC.sqrt(test.reference_pressure / pressure)
        flow = flow + float(slopes[index]) * lift
        assert reduction.flow[index] == pytest.approx(flow.x, rel=1e-13)
        assert reduction.flow_standard_uncertainty[index] == pytest.approx(flow.u, rel=1e-9)
        assert reduction.points[index].flow_expanded_uncertainty == pytest.approx(
            2 * flow.u, rel=1e-9
        )


def test_one_run_takes_the_stated_repeatability() -> None:
    reduction = reduce(one_lift(200 * CFM, Uncertainties(repeatability=0.005)))
    assert reduction.points[0].flow_expanded_uncertainty == pytest.approx(2 * 1.0 * CFM, rel=1e-12)


def pair(calibration: float, repeat: float, later: float, shared: bool) -> tuple[float, float]:
    """Gain and its expanded uncertainty from 200 to 206 cfm; the repeats' in cfm, standard."""
    keys = ("north", "N-7"), ("north", "N-7" if shared else "N-8")
    before = one_lift(200 * CFM, Uncertainties(calibration, repeat / 200), calibration_key=keys[0])
    after = one_lift(206 * CFM, Uncertainties(calibration, later / 206), calibration_key=keys[1])
    point = compare(reduce(before), reduce(after)).points[0]
    return point.gain / CFM, point.gain_expanded_uncertainty / CFM


@pytest.mark.source("JCGM 100:2008, 5.1.2, by hand")
def test_the_uncertainty_of_an_independent_difference() -> None:
    """200 (u 1.5) and 206 (u 1.55): U 4.31393, so that 6 is significant (JCGM 100, 5.1.2)."""
    gain, expanded = pair(0.0, 1.5, 1.55, shared=False)
    assert gain == pytest.approx(6.0, rel=1e-12)
    assert expanded == pytest.approx(4.31393, abs=5.1e-6)


@pytest.mark.source("GTC; JCGM 100:2008, 5.2")
@pytest.mark.parametrize("shared", [True, False])
def test_a_common_calibration_cancels_on_the_flow_in_common(shared: bool) -> None:
    """0.7 % of calibration, 0.5 cfm of repeats each: u(difference) 0.708353 where it is common.

    GTC correlates what is one and the same input (JCGM 100:2008, 5.2).
    """
    factor = GTC.ureal(1.0, 0.007)
    other = factor if shared else GTC.ureal(1.0, 0.007)
    by_gtc = other * GTC.ureal(206, 0.5) - factor * GTC.ureal(200, 0.5)
    _, expanded = pair(0.014, 0.5, 0.5, shared=shared)
    assert expanded / COVERAGE_FACTOR == pytest.approx(by_gtc.u, rel=1e-9)
    if shared:
        assert expanded / COVERAGE_FACTOR == pytest.approx(0.708353, abs=1e-6)


components = st.lists(st.floats(1e-9, 1e3), min_size=1, max_size=6)


@given(components)
def test_the_sum_lies_between_the_largest_and_the_plain_sum(parts: list[float]) -> None:
    total = float(root_sum_of_squares(*parts))
    assert max(parts) * (1 - 1e-12) <= total <= sum(parts) * (1 + 1e-12)


@given(
    st.lists(st.floats(10.0, 500.0), min_size=2, max_size=8),
    st.floats(0.01, 100.0),
)
def test_statistics_agree_with_numpy_at_any_scale(runs: list[float], scale: float) -> None:
    answer = run_statistics([[scale * run for run in runs]])
    assert answer.mean[0] == pytest.approx(scale * np.mean(runs), rel=1e-12)
    error = scale * np.std(runs, ddof=1) / len(runs) ** 0.5
    assert answer.standard_error[0] == pytest.approx(error, rel=1e-9, abs=1e-12 * scale)
