"""Spread of ports on the effective area, and the studentized range against SciPy and its table."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.area_spread import SpreadVerdict, spread_of_areas
from shopflow.calc.reduction import Reduction
from shopflow.calc.studentized import range_chance, range_factor_95
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.test_area_gain import BEFORE, SINGLE, WORKED, a_test


@pytest.mark.parametrize("count", [2, 3, 4, 8])
@pytest.mark.parametrize("freedom", [2, 5, 10.7, 30, 200, inf])
def test_the_studentized_range_is_scipy_s(count: int, freedom: float) -> None:
    many = min(freedom, 1e8)
    q = range_factor_95(count, freedom)
    assert q == pytest.approx(stats.studentized_range.ppf(0.95, count, many), rel=1e-7)
    chance = range_chance(0.7 * q, count, freedom)
    assert chance == pytest.approx(stats.studentized_range.sf(0.7 * q, count, many), rel=1e-7)


@pytest.mark.source("Harter, Ann. Math. Statist. 31 (1960) 1122, as SciPy's studentized range")
def test_the_factors_are_those_of_the_table() -> None:
    printed = {(3, 10): 3.877, (4, 20): 3.958, (5, 60): 3.977, (8, inf): 4.286}
    assert {key: round(range_factor_95(*key), 3) for key in printed} == printed
    for (count, freedom), value in printed.items():
        many = 1e6 if freedom == inf else freedom
        assert round(stats.studentized_range.ppf(0.95, count, many), 3) == value


def port(rng: np.random.Generator, more: float = 1.0) -> Reduction:
    """A port read afresh: 0.4 % of scatter, everything else exact but what all share."""
    rows = tuple(
        tuple(more * row[0] * (1.0 + 0.004 * rng.standard_normal()) for _ in range(3))
        for row in BEFORE["runs"]
    )
    uncertainties = Uncertainties(0.012, None, 0.005, 0.0, leakage=0.0, density=0.0)
    return a_test({**BEFORE, "runs": rows}, uncertainty=uncertainties, divisions=None)


@pytest.mark.slow
def test_like_ports_are_seldom_said_to_differ() -> None:
    rng = np.random.default_rng(8)
    heads = [spread_of_areas([port(rng) for _ in range(4)]) for _ in range(150)]
    means = [head.mean.verdict for head in heads if head.mean]
    assert sum(verdict == SpreadVerdict.DIFFER for verdict in means) <= 0.08 * len(heads)
    any_lift = [any(p.verdict == SpreadVerdict.DIFFER for p in head.points) for head in heads]
    assert sum(any_lift) <= 0.08 * len(heads)
    beyond = [h.mean.spread > (h.mean.expanded_uncertainty or 0.0) for h in heads if h.mean]
    assert 0.0 < np.mean(beyond) <= 0.09


def test_one_port_that_flows_more_is_found() -> None:
    rng = np.random.default_rng(9)
    answer = spread_of_areas([port(rng), port(rng), port(rng, 1.04), port(rng)])
    assert answer.mean is not None
    assert answer.mean.verdict == SpreadVerdict.DIFFER
    assert answer.mean.highest == 2
    assert answer.mean.spread == pytest.approx(0.04, abs=0.01)
    assert all(point.highest == 2 for point in answer.points)
    assert answer.points[0].deviation == pytest.approx(np.std(answer.points[0].areas, ddof=1))


@pytest.mark.source("JCGM 100:2008, 5.1.2: x1 over the mean of n by hand, u² = (1 - 1/n) u(x)²")
def test_a_port_over_the_mean_is_known_as_well_as_its_own_errors_allow() -> None:
    rng = np.random.default_rng(12)
    ports = [port(rng) for _ in range(4)]
    answer = spread_of_areas(ports)
    assert answer.mean is not None
    assert answer.brought is not None
    assert sum(answer.mean.from_mean) == pytest.approx(0.0, abs=1e-12)
    # What all share, as the calibration, is in both and drops out; runs alone are each port's own.
    own = [
        effect[-1]
        for source, effect in answer.brought.estimates[0].effects.items()
        if all(source not in other.effects for other in answer.brought.estimates[1:])
    ]
    by_hand = np.sqrt(np.sum(np.square(own)) * (1.0 - 1.0 / 4.0))
    stated = answer.mean.uncertainties[0]
    assert stated is not None
    assert stated / 1.96 == pytest.approx(by_hand, rel=0.12)
    assert stated < (answer.mean.expanded_uncertainty or 0.0)


@pytest.mark.slow
def test_nineteen_of_twenty_like_ports_lie_within_their_own_bars() -> None:
    rng = np.random.default_rng(13)
    inside = []
    for _ in range(150):
        mean = spread_of_areas([port(rng) for _ in range(4)]).mean
        assert mean is not None
        inside += [
            abs(deviation) <= (limit or 0.0)
            for deviation, limit in zip(mean.from_mean, mean.uncertainties, strict=True)
        ]
    assert 0.92 <= np.mean(inside) <= 0.985


def test_a_spread_is_not_stated_where_readings_say_nothing() -> None:
    answer = spread_of_areas([a_test(SINGLE, divisions=None) for _ in range(3)])
    assert answer.mean is not None
    assert answer.mean.verdict == SpreadVerdict.NOT_STATED
    assert answer.mean.expanded_uncertainty is None


def test_two_ports_are_judged_as_a_difference_of_two() -> None:
    """The studentized range of two is Student's t times the root of 2."""
    rng = np.random.default_rng(10)
    answer = spread_of_areas([port(rng), port(rng)])
    assert answer.brought is not None
    ratio = answer.brought.estimates[0] / answer.brought.estimates[1]
    assert answer.mean is not None
    assert answer.mean.expanded_uncertainty == pytest.approx(float(ratio.expanded[-1]), rel=1e-6)


def test_one_port_has_no_spread_and_far_lifts_have_none_in_common() -> None:
    with pytest.raises(ValueError, match="two ports"):
        spread_of_areas([a_test(BEFORE)])
    far = a_test({"lifts": (12, 14), "runs": ((125.0,), (126.0,))}, uncertainty=WORKED)
    assert spread_of_areas([a_test(BEFORE), far]).points == ()
