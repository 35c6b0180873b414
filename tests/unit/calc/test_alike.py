"""Sessions side by side: spread, ratio and head against head, held to SciPy, statistics and GTC."""

from __future__ import annotations

import statistics
from dataclasses import replace

import GTC
import numpy as np
import pytest
from scipy.interpolate import interp1d

from shopflow.calc.alike import alike, held_against
from shopflow.calc.areas import Valve
from shopflow.calc.comparison import Comparison, compare, compare_held
from shopflow.calc.heads import compare_head_areas, held_heads
from shopflow.calc.kinds import Against
from shopflow.calc.ratio import ratio
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.spread import spread
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test, one_lift

KEY = ("north", "N-7")
OTHER_KEY = ("north", "N-8")
SET_TO = Uncertainties(calibration=0.014, repeatability=0.003)
"""0.7 % standard of the calibration, 0.3 % of a reading."""


def compare_heads(first: list[Reduction], second: list[Reduction]) -> Comparison:
    return compare_held(held_heads(first, second), compare_head_areas(first, second))


def port(flow: float, key: tuple[str, str] = KEY) -> Reduction:
    """One lift of a port that flows this many cfm."""
    return reduce(one_lift(flow * CFM, SET_TO, calibration_key=key))


def by_gtc(*flows: tuple[float, object]) -> list:
    """The same flows in cfm as GTC's uncertain numbers, each with the factor it was read under."""
    return [factor * GTC.ureal(flow, 0.003 * flow) for flow, factor in flows]


def test_sessions_meet_at_the_last_ones_lifts_inside_the_common_range() -> None:
    first = reduce(flow_test())
    last = reduce(
        flow_test(
            lifts=(1e-3, 2e-3, 6e-3, 14e-3),
            runs=((17 * CFM,), (35 * CFM,), (110 * CFM,), (180 * CFM,)),
        )
    )
    found = alike([first, last])
    assert found.lifts.tolist() == [2e-3, 6e-3]
    assert found.flow[0] == pytest.approx(interp1d(first.lifts, first.flow)([2e-3, 6e-3]))
    assert found.flow[1] == pytest.approx(last.flow[1:3])


def test_at_like_lift_over_diameter_a_larger_valve_is_read_higher_up() -> None:
    """At L/D 0.2 a valve of 44 mm is open 8.8 mm and one of 40 mm 8 mm."""
    large = reduce(flow_test())
    small = reduce(
        flow_test(valve=Valve(40e-3), lifts=(4e-3, 8e-3), runs=((70 * CFM,), (120 * CFM,)))
    )
    found = alike([large, small], Against.OVER_DIAMETER)
    assert found.lift_over_diameter == pytest.approx([0.1, 0.2])
    assert found.flow[0] == pytest.approx(interp1d(large.lifts, large.flow)([4.4e-3, 8.8e-3]))
    stretched = held_against(large, small, Against.OVER_DIAMETER)
    assert stretched.lift_over_diameter == pytest.approx(large.lift_over_diameter, rel=1e-12)
    assert held_against(large, small, Against.LIFT) is large


def test_nothing_in_common_leaves_nothing() -> None:
    early = reduce(flow_test(lifts=(1e-3, 2e-3), runs=((0.01,), (0.02,))))
    late = reduce(flow_test(lifts=(5e-3, 6e-3), runs=((0.04,), (0.05,))))
    assert alike([early, late]).is_empty
    assert spread(alike([early, late])) == ()
    assert ratio(alike([late, early])).points == ()
    assert ratio(alike([late, early])).mean is None
    assert ratio(alike([late, early])).shared is False
    assert compare_heads([early], [late]).mean_gain_percent is None


def test_the_spread_of_four_ports_by_hand_and_by_pythons_statistics() -> None:
    flows = [200.0, 206.0, 197.0, 203.0]
    (point,) = spread(alike([port(flow) for flow in flows]))
    assert (point.lowest, point.highest) == (2, 1)
    assert point.mean / CFM == pytest.approx(statistics.mean(flows))
    assert point.deviation / CFM == pytest.approx(statistics.stdev(flows))
    assert point.spread_percent == pytest.approx(100 * 9 / 201.5)
    assert point.lift_over_diameter == pytest.approx(10 / 44)


@pytest.mark.parametrize("shared", [True, False])
def test_the_uncertainty_of_a_spread_agrees_with_gtc(shared: bool) -> None:
    """What two ports were both read under is one and the same input (JCGM 100:2008, 5.2)."""
    factor = GTC.ureal(1.0, 0.007)
    other = factor if shared else GTC.ureal(1.0, 0.007)
    low, high = by_gtc((200.0, factor), (203.0, other))
    ports = [port(200.0), port(203.0, KEY if shared else OTHER_KEY)]
    (point,) = spread(alike(ports))
    assert point.expanded_uncertainty / CFM == pytest.approx(2 * (high - low).u, rel=1e-9)
    assert point.significant == shared


def test_one_port_has_no_spread() -> None:
    with pytest.raises(ValueError, match=r"^a spread needs two ports$"):
        spread(alike([port(200.0)]))


@pytest.mark.parametrize("shared", [True, False])
def test_a_calibration_in_common_cancels_in_a_ratio_as_in_gtc(shared: bool) -> None:
    """JCGM 100:2008, F.1.2: what is common to both leaves their ratio alone."""
    factor = GTC.ureal(1.0, 0.007)
    other = factor if shared else GTC.ureal(1.0, 0.007)
    below, above = by_gtc((206.0, factor), (150.0, other))
    found = ratio(alike([port(206.0), port(150.0, KEY if shared else OTHER_KEY)]))
    (point,) = found.points
    assert found.shared == shared
    assert found.mean == pytest.approx(point.ratio)
    assert point.ratio == pytest.approx((above / below).x, rel=1e-12)
    assert point.expanded_uncertainty == pytest.approx(2 * (above / below).u, rel=1e-9)


def test_a_session_over_itself_is_one_everywhere() -> None:
    whole = reduce(flow_test(calibration_key=KEY))
    found = ratio(alike([whole, whole], Against.OVER_DIAMETER))
    assert len(found.points) == len(whole.lifts)
    assert all(point.ratio == pytest.approx(1.0) for point in found.points)
    assert found.mean == pytest.approx(1.0)


def test_a_ratio_of_means_is_that_of_scipys_trapezoids() -> None:
    from scipy.integrate import trapezoid

    below = reduce(flow_test())
    above = reduce(flow_test(side="exhaust", lifts=below.test.lifts[1:], runs=below.test.runs[:-1]))
    found = ratio(alike([below, above]))
    wanted = trapezoid(above.flow, above.lifts) / trapezoid(below.flow[1:], below.lifts[1:])
    assert found.mean == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("shared", [True, False])
def test_heads_of_one_port_each_compare_as_two_sessions_do(shared: bool) -> None:
    before = reduce(flow_test(calibration_key=KEY))
    after = reduce(
        flow_test(
            calibration_key=KEY if shared else OTHER_KEY,
            runs=tuple(tuple(run * 1.04 for run in runs) for runs in before.test.runs),
        )
    )
    assert compare_heads([before], [after]) == compare(before, after)


def test_the_means_of_two_heads_under_one_calibration_agree_with_gtc() -> None:
    factor = GTC.ureal(1.0, 0.007)
    flows = [200.0, 204.0, 210.0, 207.0, 212.0]
    numbers = by_gtc(*((flow, factor) for flow in flows))
    difference = sum(numbers[2:]) / 3 - sum(numbers[:2]) / 2
    ports = [port(flow) for flow in flows]
    (point,) = compare_heads(ports[:2], ports[2:]).points
    assert point.gain / CFM == pytest.approx(difference.x, rel=1e-12)
    assert point.gain_expanded_uncertainty / CFM == pytest.approx(2 * difference.u, rel=1e-9)


def test_means_of_heads_under_several_calibrations_are_no_surer_than_their_ports() -> None:
    """JCGM 100:2008, 5.2.2, note 1: errors wholly dependent add up as they stand."""
    ports = [port(200.0), port(200.0, OTHER_KEY), port(206.0, ("south", "S-1"))]
    (point,) = compare_heads(ports[:2], ports[2:]).points
    one = 200.0 * np.hypot(0.007, 0.003)
    other = 206.0 * np.hypot(0.007, 0.003)
    assert point.gain_expanded_uncertainty / CFM == pytest.approx(2 * np.hypot(one, other))


def test_a_common_calibration_is_the_last_sessions() -> None:
    first = port(200.0)
    doubtful = reduce(
        replace(
            first.test, uncertainty=Uncertainties(0.02, 0.003), test_pressure=28 * INCH_OF_WATER
        )
    )
    assert alike([first, doubtful]).common.tolist() == [0.01]


def test_ports_that_flow_alike_without_doubt_do_not_differ() -> None:
    sure = reduce(one_lift(200 * CFM, Uncertainties(0.0, 0.0, 0.0, 0.0)))
    (point,) = spread(alike([sure, sure]))
    assert (point.difference, point.expanded_uncertainty) == (0.0, 0.0)
    assert not point.significant


def test_a_ratio_can_be_taken_at_like_depth_of_unlike_valves() -> None:
    """By hand: a valve of 36.0 mm opens L/D 0.1 at 3.6 mm, one of 44.0 mm at 4.4 mm."""
    below = reduce(flow_test())
    small = replace(below.test.valve, head_diameter=36e-3)
    lifts = (3.6e-3, 7.2e-3)
    above = reduce(flow_test(side="exhaust", valve=small, lifts=lifts, runs=((0.03,), (0.05,))))
    found = ratio(alike([below, above], Against.OVER_DIAMETER))
    wanted = above.flow / interp1d(below.lifts, below.flow)([4.4e-3, 8.8e-3])
    assert [point.ratio for point in found.points] == pytest.approx(wanted.tolist())
