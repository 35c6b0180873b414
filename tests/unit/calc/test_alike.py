"""Sessions at like lift over diameter, ratios and heads, held against GTC and SciPy."""

from __future__ import annotations

from typing import Any

import GTC
import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.areas import Valve
from shopflow.calc.array_types import Against
from shopflow.calc.common_lifts import held_against
from shopflow.calc.comparison import compare
from shopflow.calc.estimates import Input
from shopflow.calc.heads import compare_head_areas
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.ratio import ratio
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, flow_test, one_lift

KEY = ("north", "N-7")
OTHER_KEY = ("north", "N-8")
SET_TO = Uncertainties(calibration=0.014, repeatability=0.003)
"""0.7 % standard of the calibration, 0.3 % of a reading."""


def port(flow: float, key: tuple[str, str] = KEY) -> Reduction:
    """One lift of a port that flows this many cfm."""
    return reduce(one_lift(flow * CFM, SET_TO, calibration_key=key))


def by_gtc(*flows: tuple[float, object]) -> list[Any]:
    """The same flows in cfm as GTC's uncertain numbers, each with the factor it was read under."""
    return [factor * GTC.ureal(flow, 0.003 * flow) for flow, factor in flows]


def test_at_like_lift_over_diameter_a_larger_valve_is_read_higher_up() -> None:
    """At L/D 0.2 a valve of 44 mm is open 8.8 mm and one of 40 mm 8 mm."""
    large = reduce(flow_test())
    small = reduce(
        flow_test(valve=Valve(40e-3), lifts=(4e-3, 8e-3), runs=((70 * CFM,), (120 * CFM,)))
    )
    stretched = held_against(large, small, Against.OVER_DIAMETER)
    answer = compare_areas([stretched], [small])
    curve = LiftCurve(large.lifts, large.effective_area)
    before = [point.before for point in answer.points]
    assert before == pytest.approx(curve.at(np.array([4.4e-3, 8.8e-3])), rel=1e-9)
    assert stretched.lift_over_diameter == pytest.approx(large.lift_over_diameter, rel=1e-12)
    assert held_against(large, small, Against.LIFT) is large


def test_stretched_lifts_leave_what_their_setting_is_worth() -> None:
    """The setting's uncertainty is stretched with the lifts, so that it does as much."""
    large = reduce(flow_test())
    small = reduce(flow_test(valve=Valve(40e-3)))
    stretched = held_against(large, small, Against.OVER_DIAMETER)
    own, after = (item.area_errors.relative[Input.LIFT] for item in (large, stretched))
    assert after == pytest.approx(own, rel=1e-9)


def test_nothing_in_common_leaves_nothing() -> None:
    early = reduce(flow_test(lifts=(1e-3, 2e-3), runs=((0.01,), (0.02,))))
    late = reduce(flow_test(lifts=(5e-3, 6e-3), runs=((0.04,), (0.05,))))
    assert ratio(late, early).points == ()
    assert ratio(late, early).mean is None
    assert compare_head_areas([early], [late]).mean is None


@pytest.mark.parametrize("shared", [True, False])
def test_a_calibration_in_common_cancels_in_a_ratio_as_in_gtc(shared: bool) -> None:
    """JCGM 100:2008, F.1.2: what is common to both leaves their ratio alone."""
    factor = GTC.ureal(1.0, 0.007)
    other = factor if shared else GTC.ureal(1.0, 0.007)
    below, above = by_gtc((206.0, factor), (150.0, other))
    answer = ratio(port(206.0), port(150.0, KEY if shared else OTHER_KEY))
    (point,) = answer.points
    assert answer.mean == point
    assert point.ratio == pytest.approx((above / below).x, rel=1e-12)
    assert point.standard_uncertainty == pytest.approx((above / below).u, rel=1e-9)
    assert point.expanded_uncertainty == pytest.approx(1.959964 * (above / below).u, rel=1e-6)


def test_a_session_over_itself_is_one_everywhere() -> None:
    reduction = reduce(flow_test(calibration_key=KEY))
    answer = ratio(reduction, reduction)
    assert len(answer.points) == len(reduction.lifts)
    assert all(point.ratio == pytest.approx(1.0) for point in answer.points)
    assert answer.mean is not None
    assert answer.mean.ratio == pytest.approx(1.0)


def test_a_ratio_of_means_is_that_of_scipys_curves() -> None:
    below = reduce(flow_test())
    above = reduce(flow_test(side="exhaust", lifts=below.test.lifts[1:], runs=below.test.runs[:-1]))
    low, high = above.lifts[0], above.lifts[-1]
    areas = [
        PchipInterpolator(np.r_[0.0, item.lifts], np.r_[0.0, item.effective_area]).integrate(
            low, high
        )
        for item in (above, below)
    ]
    answer = ratio(below, above)
    assert answer.mean is not None
    assert answer.mean.ratio == pytest.approx(float(areas[0] / areas[1]), rel=1e-12)


def test_a_ratio_of_readings_that_say_nothing_is_not_stated() -> None:
    bare = reduce(one_lift(200 * CFM, Uncertainties(calibration=0.01)))
    (point,) = ratio(bare, bare).points
    assert point.expanded_uncertainty is None


@pytest.mark.parametrize("shared", [True, False])
def test_heads_of_one_port_each_compare_as_two_sessions_do(shared: bool) -> None:
    before = reduce(flow_test(calibration_key=KEY))
    after = reduce(
        flow_test(
            calibration_key=KEY if shared else OTHER_KEY,
            runs=tuple(tuple(run * 1.04 for run in runs) for runs in before.test.runs),
        )
    )
    assert compare_head_areas([before], [after]) == compare(before, after).areas


def test_the_means_of_two_heads_under_one_calibration_agree_with_gtc() -> None:
    factor = GTC.ureal(1.0, 0.007)
    flows = [200.0, 204.0, 210.0, 207.0, 212.0]
    numbers = by_gtc(*((flow, factor) for flow in flows))
    ratio_of_means = (sum(numbers[2:]) / 3) / (sum(numbers[:2]) / 2)
    ports = [port(flow) for flow in flows]
    (point,) = compare_head_areas(ports[:2], ports[2:]).points
    assert point.gain + 1.0 == pytest.approx(ratio_of_means.x, rel=1e-12)
    assert point.standard_uncertainty == pytest.approx(ratio_of_means.u, rel=1e-9)
