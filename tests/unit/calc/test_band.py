"""Bands of past curves, against numpy's and scipy's quantiles and interpolation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import interpolate
from scipy.stats import mstats, rankdata
from scipy.stats import t as student

from shopflow.calc.band import Curve, _inside, _multiples, band, common_range, mean_between, rank

MM = 1e-3


def curve(seed: int, lifts: list[float]) -> Curve:
    """A curve that flattens, with a strength of its own."""
    rng = np.random.default_rng(seed)
    top = rng.uniform(60.0, 90.0)
    return Curve(tuple(lifts), tuple(top * np.tanh(np.array(lifts) / 5.0 / MM)))


def scipys(one: Curve) -> interpolate.PchipInterpolator:
    """The same curve through no lift, by scipy."""
    return interpolate.PchipInterpolator((0.0, *one.x), (0.0, *one.y))


CURVES = [
    curve(1, [lift * MM for lift in (1, 2, 4, 6, 8, 10)]),
    curve(2, [lift * MM for lift in (1.5, 3, 5, 7, 9, 11)]),
    curve(3, [lift * MM for lift in (0.5, 2.5, 5, 7.5)]),
    curve(4, [lift * MM for lift in (1, 3, 5, 7, 9)]),
    curve(5, [lift * MM for lift in (2, 12)]),
]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_each_point_has_the_quantiles_of_the_curves_that_reach_it(count: int) -> None:
    chosen = CURVES[:count]
    for point in band(chosen, 0.5 * MM):
        there = [c for c in chosen if c.x[0] - 1e-12 <= point.x <= c.x[-1] + 1e-12]
        # scipy's interpolation and quantiles; alphap = betap = 1 is type 7 of Hyndman and Fan.
        values = [float(scipys(c)(point.x)) for c in there]
        quartiles = mstats.mquantiles(values, [0.25, 0.5, 0.75], alphap=1.0, betap=1.0)
        assert point.count == len(there)
        got = (point.lower_quartile, point.median, point.upper_quartile)
        assert got == pytest.approx(tuple(quartiles), rel=1e-12)
        assert (point.least, point.greatest) == pytest.approx((min(values), max(values)))


def test_places_are_multiples_of_the_step_that_some_curve_reaches() -> None:
    answer = band(CURVES, 0.5 * MM)
    assert [point.x for point in answer] == pytest.approx([n * 0.5 * MM for n in range(1, 25)])
    assert (answer[0].count, answer[-1].count) == (1, 1)
    gap = [Curve((0.1, 0.2), (1.0, 2.0)), Curve((0.5, 0.6), (3.0, 4.0))]
    assert [point.x for point in band(gap, 0.1)] == pytest.approx([0.1, 0.2, 0.5, 0.6])


def test_nothing_makes_no_band_and_one_point_makes_one_where_it_lies() -> None:
    assert band([], 0.1) == ()
    assert band([Curve((0.25,), (7.0,))], 0.1) == ()
    (point,) = band([Curve((0.3,), (7.0,))], 0.1)
    assert (point.count, point.least, point.median, point.greatest) == (1, 7.0, 7.0, 7.0)
    with pytest.raises(ValueError, match=r"^a band's step is more than 0$"):
        band(CURVES, 0.0)


@given(st.lists(st.floats(0.0, 1e3), min_size=1, max_size=30))
@settings(max_examples=100)
def test_the_five_figures_are_in_order_and_numpys(values: list[float]) -> None:
    (point, _) = band([Curve((1.0, 2.0), (value, value)) for value in values], 1.0)
    five = (point.least, point.lower_quartile, point.median, point.upper_quartile, point.greatest)
    # numpy.percentile's 'linear', Hyndman and Fan's type 7.
    wanted = np.percentile(values, [0, 25, 50, 75, 100], method="linear")
    assert five == pytest.approx(tuple(wanted), rel=1e-12, abs=1e-12)
    assert list(five) == sorted(five)


def test_the_common_range_is_where_all_have_a_value() -> None:
    assert common_range(CURVES) == (2 * MM, 7.5 * MM)
    assert common_range([]) is None
    assert common_range([Curve((0.1, 0.2), (1, 2)), Curve((0.2, 0.3), (1, 2))]) is None


def test_a_mean_between_two_places_is_the_integral_over_their_distance() -> None:
    low, high = 2 * MM, 7.5 * MM
    for item in CURVES:
        # scipy's integral of its own monotone cubic.
        area = scipys(item).integrate(low, high)
        assert mean_between(item, low, high) == pytest.approx(area / (high - low), rel=1e-9)


@given(st.lists(st.integers(0, 9), min_size=1, max_size=20))
def test_ranks_are_those_of_a_competition(values: list[int]) -> None:
    numbers = [float(value) for value in values]
    # scipy ranks the least first.
    wanted = rankdata([-number for number in numbers], method="min")
    assert [rank(number, numbers) for number in numbers] == wanted.tolist()


def test_places_begin_and_end_with_the_curves() -> None:
    """By hand: the tenths from 0.3 to 0.6 and the fives from 10 to 20, no more and no less."""
    assert _multiples([Curve((0.3, 0.6), (0.0, 0.0))], 0.1) == pytest.approx([0.3, 0.4, 0.5, 0.6])
    assert _multiples([Curve((0.31, 0.59), (0.0, 0.0))], 0.1) == pytest.approx([0.4, 0.5])
    assert _multiples([Curve((9.0, 21.0), (0.0, 0.0))], 5.0).tolist() == [10.0, 15.0, 20.0]


def test_a_curve_ends_where_it_ends_but_for_rounding() -> None:
    """A billionth of the last place is rounding, a hundred millionth is beyond."""
    for last in (1e-3, 1.0, 1e3):
        item = Curve((last / 2, last), (1.0, 2.0))
        near, far = last * (1 + 0.5e-9), last * (1 + 1e-8)
        assert np.isnan(_inside(item, np.array([last, near, far]))).tolist() == [False, False, True]
        ends = np.array([last / 2, last / 2 - last * 0.5e-9, last / 2 - last * 1e-8])
        assert np.isnan(_inside(item, ends)).tolist() == [False, False, True]


@pytest.mark.parametrize("count", [3, 5, 10, 20])
def test_the_next_head_falls_inside_in_half_of_cases_however_few_came_before(count: int) -> None:
    """Shops of known truth: heads drawn about a mean, then one more. Quartiles of 3 hold fewer."""
    rng, shops = np.random.default_rng(1300 + count), 4000
    heads = rng.normal(500.0, 20.0, (count + 1, shops)).tolist()
    # Each lift is a shop of its own: through its points a curve has their values.
    lifts = tuple(float(shop + 1) for shop in range(shops))
    points = band([Curve(lifts, tuple(head)) for head in heads[:-1]], 1.0)
    inside = between_quartiles = 0
    for point, later in zip(points, heads[-1], strict=True):
        assert point.next_low is not None
        assert point.next_high is not None
        inside += point.next_low <= later <= point.next_high
        between_quartiles += point.lower_quartile <= later <= point.upper_quartile
    # Four standard errors of a share of a half: 3.2 points.
    assert 100.0 * inside / shops == pytest.approx(50.0, abs=3.2)
    assert count > 3 or between_quartiles / shops < 0.4


def test_the_next_interval_is_scipys_and_a_single_head_has_none() -> None:
    values = [7.1, 6.4, 8.0, 7.7]
    (point,) = band([Curve((1.0,), (value,)) for value in values], 1.0)
    spread = np.std(values, ddof=1) * np.sqrt(1.0 + 1.0 / 4.0)
    wanted = student.interval(0.5, 3, loc=np.mean(values), scale=spread)
    assert (point.next_low, point.next_high) == pytest.approx(wanted, rel=1e-9)
    (alone,) = band([Curve((1.0,), (7.0,))], 1.0)
    assert (alone.next_low, alone.next_high) == (None, None)
