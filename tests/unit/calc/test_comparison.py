"""One session against another, by hand and against SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import interp1d

from shopflow.calc.comparison import compare
from shopflow.calc.reduction import reduce
from shopflow.calc.sanity import comparison_warnings, out_of_line, warnings
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test, one_lift


def test_a_session_against_itself_gains_nothing() -> None:
    reduction = reduce(flow_test())
    both = compare(reduction, reduction)
    assert all(point.gain == 0.0 and not point.significant for point in both.points)
    assert both.mean_gain_percent == pytest.approx(0.0, abs=1e-12)


def test_the_gain_of_two_summaries_is_the_comparisons() -> None:
    before = reduce(flow_test())
    more = tuple(tuple(1.07 * run for run in runs) for runs in before.test.runs)
    for changed in (
        {"runs": more},
        {"lifts": (2e-3, 5e-3, 6.2e-3), "runs": ((30 * CFM,), (97 * CFM,), (120 * CFM,))},
        {"lifts": (5e-3,), "runs": ((97 * CFM,),)},
    ):
        after = reduce(flow_test(**changed))
        percent = compare(before, after).mean_area_gain_percent
        assert percent is not None
        gain = after.curve.gain_over(before.curve)
        assert gain == pytest.approx(percent / 100.0, rel=1e-9)
    beyond = reduce(flow_test(lifts=(0.5,), runs=((97 * CFM,),)))
    assert beyond.curve.gain_over(before.curve) is None
    stated_elsewhere = reduce(flow_test(reference_pressure=2_500.0))
    assert stated_elsewhere.curve.gain_over(before.curve) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.source("SciPy interp1d")
def test_flow_before_is_interpolated_as_scipy_does() -> None:
    before = reduce(flow_test())
    wanted = (2e-3, 5e-3, 6.2e-3, 12.4e-3)
    after = reduce(flow_test(lifts=wanted, runs=((30 * CFM,), (97 * CFM,), (120 * CFM,),
                                                 (180 * CFM,))))  # fmt: skip
    rows = [point.before for point in compare(before, after).points]
    assert rows == pytest.approx(interp1d(before.lifts, before.flow)(wanted), rel=1e-12)


@pytest.mark.source("JCGM 100:2008, 5.1.2, by hand")
def test_an_interpolated_uncertainty_is_the_weighted_root_sum_of_squares() -> None:
    """Halfway between two lifts of equal uncertainty: u/√2 (JCGM 100:2008, 5.1.2)."""
    stated = Uncertainties(repeatability=0.01)
    settings = {"leakage": 0.0, "uncertainty": stated}
    before = reduce(flow_test(lifts=(4e-3, 6e-3), runs=((0.05,), (0.05,)), **settings))
    after = reduce(
        flow_test(lifts=(5e-3,), runs=((0.06,),), leakage=0.0, uncertainty=Uncertainties())
    )
    point = compare(before, after).points[0]
    u_before = 0.01 * before.flow[0] / np.sqrt(2)
    assert point.gain_expanded_uncertainty == pytest.approx(2 * u_before, rel=1e-12)


def test_nothing_in_common_has_no_points_and_says_so() -> None:
    early = reduce(flow_test(lifts=(1e-3, 2e-3), runs=((0.01,), (0.02,))))
    late = reduce(flow_test(lifts=(5e-3, 6e-3), runs=((0.04,), (0.05,))))
    assert compare(early, late).points == ()
    assert compare(early, late).mean_gain_percent is None
    texts = [doubt.text for doubt in comparison_warnings(early, late)]
    assert any("share no range of lift" in text for text in texts)


def test_unlike_sessions_are_doubted() -> None:
    reduction = reduce(flow_test())
    other = reduce(flow_test(side="exhaust", reference_pressure=10 * INCH_OF_WATER))
    texts = " ".join(doubt.text for doubt in comparison_warnings(reduction, other))
    assert "an intake side is compared with an exhaust side" in texts
    assert "does not compare like values" in texts
    assert comparison_warnings(reduction, reduction) == []


def test_an_ordinary_session_is_not_doubted() -> None:
    assert warnings(reduce(flow_test())) == []


@pytest.mark.source("Energy equation: no opening passes more than the ideal flow")
def test_a_coefficient_above_one_is_doubted_at_its_lift() -> None:
    """More than the ideal cannot pass: its velocity would exceed the expansion's."""
    answer = warnings(reduce(one_lift(800 * CFM, Uncertainties(), port_area=None)))
    assert [doubt.place for doubt in answer] == [0]
    assert "least valve area" in answer[0].text


@pytest.mark.source("CIPM-2007: Picard et al. (2008), recommended range")
def test_air_outside_the_formula_is_doubted() -> None:
    """Picard et al. (2008): 600 to 1100 hPa, 15 to 27 °C."""
    texts = [doubt.text for doubt in warnings(reduce(flow_test(temperature=303.15)))]
    assert any("15 to 27 °C" in text for text in texts)
    assert warnings(reduce(flow_test(temperature=300.15, barometer=60000.0))) == []


@pytest.mark.source("common practice, no source")
@pytest.mark.parametrize("index", range(1, 6))
@pytest.mark.parametrize("slip", [0.85, 1.15])
def test_a_slip_of_15_percent_is_found_where_it_is(index: int, slip: float) -> None:
    """Common practice, no source: a curve of flow bends one way."""
    lifts = np.arange(1.0, 9.0)
    flow = 200.0 * np.tanh(lifts / 5.0)
    assert out_of_line(lifts, flow) == []
    flow[index + 1] *= slip
    assert index + 1 in out_of_line(lifts, flow)


@pytest.mark.source("Plain arithmetic: 206 after 200 is a gain of 3 %")
def test_a_gain_in_percent_is_of_what_was_before() -> None:
    before, after = (reduce(one_lift(flow * CFM, Uncertainties())) for flow in (200, 206))
    both = compare(before, after)
    assert both.points[0].gain_percent == pytest.approx(3.0, rel=1e-10)
    assert both.mean_gain_percent == pytest.approx(3.0, rel=1e-10)
    assert compare(after, before).points[0].gain_percent == pytest.approx(-600 / 206, rel=1e-10)
