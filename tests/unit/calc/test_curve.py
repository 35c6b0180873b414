"""Working along a curve, against SciPy and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, interpolate

from shopflow.calc.curve import interpolation_weights, mean_over_lift, slope

LIFTS = np.arange(0.0, 13.0, 2.0)
FLOWS = np.array([0.0, 39, 80, 123, 158, 179, 185])


@pytest.mark.source("SciPy trapezoid")
def test_the_mean_agrees_with_scipy() -> None:
    area = integrate.trapezoid(FLOWS, LIFTS)
    assert area == 1343.0
    assert mean_over_lift(LIFTS, FLOWS) == pytest.approx(area / 12.0, rel=1e-15)


@pytest.mark.source("Integral of 2x − x² and its trapezoids, in closed form")
def test_the_mean_of_a_parabola_is_near_its_integral() -> None:
    """Q = 2x − x² over 0 to 1: 2/3 exactly, 0.665 by trapezoids of 0.1."""
    x = np.linspace(0.0, 1.0, 11)
    assert mean_over_lift(x, 2 * x - x**2) == pytest.approx(0.665, rel=1e-12)


def test_the_mean_of_one_lift_is_that_flow() -> None:
    assert mean_over_lift(np.array([0.01]), np.array([3.5])) == 3.5


def between(lifts: np.ndarray, flows: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    lower, upper, weight = interpolation_weights(lifts, wanted)
    return flows[lower] * (1 - weight) + flows[upper] * weight


@pytest.mark.source("SciPy PchipInterpolator")
def test_between_lifts_it_is_linear_and_not_pchip() -> None:
    """At 7.5 mm 149.25; SciPy's shape-preserving cubic has 150.6487."""
    wanted = np.array([7.5])
    assert between(LIFTS, FLOWS, wanted)[0] == pytest.approx(149.25, rel=1e-15)
    cubic = interpolate.PchipInterpolator(LIFTS, FLOWS)(7.5)
    assert cubic == pytest.approx(150.6487, abs=5.1e-5)


rising = st.lists(st.floats(0.01, 5.0), min_size=2, max_size=12).map(np.cumsum)


@pytest.mark.source("numpy.interp")
@given(rising, st.data())
def test_interpolation_agrees_with_numpy(lifts: np.ndarray, data: st.DataObject) -> None:
    flows = np.array(data.draw(st.lists(st.floats(0, 500), min_size=len(lifts),
                                        max_size=len(lifts))))  # fmt: skip
    wanted = np.array(
        data.draw(st.lists(st.floats(float(lifts[0]), float(lifts[-1])), min_size=1, max_size=5))
    )
    expected = np.interp(wanted, lifts, flows)
    assert between(lifts, flows, wanted) == pytest.approx(expected, rel=1e-9, abs=1e-9)
    _, _, weight = interpolation_weights(lifts, wanted)
    assert ((weight >= 0) & (weight <= 1)).all()


@pytest.mark.source("A parabola's derivative in closed form")
@given(rising, st.floats(-5, 5), st.floats(-5, 5), st.floats(-5, 5))
def test_slope_is_exact_for_a_parabola_inside(
    lifts: np.ndarray, a: float, b: float, c: float
) -> None:
    """Second-order differences are exact for a polynomial of degree two."""
    answer = slope(lifts, a * lifts**2 + b * lifts + c)
    assert answer[1:-1] == pytest.approx((2 * a * lifts + b)[1:-1], abs=1e-4)


def test_two_lifts_have_the_slope_of_their_line() -> None:
    assert slope(np.array([4.0, 6.0]), np.array([80.0, 123.0])).tolist() == [21.5, 21.5]


def test_one_lift_has_no_slope() -> None:
    assert slope(np.array([0.01]), np.array([3.0])).tolist() == [0.0]


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("lifts", [[6.0, 8.0, 9.0], [6.0]])
def test_on_a_lift_of_the_curve_all_the_weight_is_the_upper_neighbour_s(lifts: list[float]) -> None:
    curve = np.array(lifts)
    lower, upper, weight = interpolation_weights(curve, curve)
    assert weight.tolist() == [1.0] * len(lifts)
    assert upper.tolist() == list(range(len(lifts)))
    assert lower.tolist() == [max(place - 1, 0) for place in upper.tolist()]
