"""Curves of flow over lift against SciPy and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, simpson, trapezoid
from scipy.interpolate import KroghInterpolator, PchipInterpolator

from shopflow.calc.comparison import compare
from shopflow.calc.curve import mean_over_lift, slope
from shopflow.calc.reduction import reduce
from tests.unit.calc.sessions import CFM, flow_test

LIFTS = np.array([0.0, 2, 4, 6, 8, 10, 12])
FLOWS = np.array([0.0, 39, 80, 123, 158, 179, 185])
UNEVEN = np.array([1.0, 1.5, 3.0, 4.5, 7.0, 8.0, 11.0])


@pytest.mark.source("SciPy trapezoid and numpy: lifts 0 to 12 mm, area 1343.0, mean 111.9167")
def test_the_mean_of_an_ordinary_curve() -> None:
    assert trapezoid(FLOWS, LIFTS) == 1343.0
    assert mean_over_lift(LIFTS, FLOWS) == pytest.approx(111.9167, abs=5.1e-5)


@pytest.mark.source("SciPy quad of the straight lines between uneven lifts")
def test_the_mean_on_uneven_lifts_is_the_integral_of_its_lines() -> None:
    flows = 180 * np.tanh(UNEVEN / 6)
    area, _ = quad(lambda x: np.interp(x, UNEVEN, flows), 1.0, 11.0, points=UNEVEN[1:-1])
    assert mean_over_lift(UNEVEN, flows) == pytest.approx(area / 10.0, rel=1e-9)


@pytest.mark.source("SciPy simpson and PchipInterpolator: what straight lines leave out")
def test_smooth_curves_hold_a_little_more_than_straight_lines() -> None:
    """A curve that bends downwards lies above its chords; here by under 1 %."""
    mean = mean_over_lift(LIFTS, FLOWS)
    for area in (simpson(FLOWS, x=LIFTS), PchipInterpolator(LIFTS, FLOWS).integrate(0, 12)):
        assert mean < area / 12 < 1.01 * mean


@pytest.mark.source("SciPy KroghInterpolator: derivative of the parabola through three readings")
def test_the_slope_inside_is_that_of_the_parabola_through_the_neighbours() -> None:
    flows = 180 * np.tanh(UNEVEN / 6)
    answer = slope(UNEVEN, flows)
    for place in range(1, len(UNEVEN) - 1):
        near = slice(place - 1, place + 2)
        parabola = KroghInterpolator(UNEVEN[near], flows[near])
        assert answer[place] == pytest.approx(parabola.derivative(UNEVEN[place]), rel=1e-10)


@pytest.mark.source("numpy.diff: both ends of a curve, by the chord")
def test_the_slope_at_the_ends_is_the_chord_s() -> None:
    chords = np.diff(FLOWS) / np.diff(LIFTS)
    assert slope(LIFTS, FLOWS)[[0, -1]] == pytest.approx(chords[[0, -1]], rel=1e-14)


@pytest.mark.source(
    "SciPy trapezoid of numpy.interp: means over the lifts two sessions have in common"
)
def test_the_mean_gain_is_that_of_both_integrals() -> None:
    before = reduce(flow_test())
    after = reduce(
        flow_test(
            lifts=(1e-3, 2e-3, 6.2e-3, 12.4e-3, 13e-3),
            runs=tuple((flow * CFM,) for flow in (15, 38, 121, 182, 183)),
        )
    )
    lifts = after.lifts[1:4]
    areas = [
        trapezoid(np.interp(lifts, answer.lifts, answer.flow), lifts) for answer in (before, after)
    ]
    mean_gain_percent = compare(before, after).mean_gain_percent
    assert mean_gain_percent == pytest.approx(100 * (areas[1] / areas[0] - 1), rel=1e-10)
