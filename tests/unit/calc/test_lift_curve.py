"""The one curve over lift against SciPy, and what follows from it."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from shopflow.calc.lift_curve import LiftCurve, figures_and_sensitivities, means_over_own_lifts


def curves() -> list[tuple[np.ndarray, np.ndarray]]:
    """Rising ones, falling ones, and ones that turn, of one to eight points."""
    rng = np.random.default_rng(28)
    rows = []
    for place in range(200):
        count = int(rng.integers(1, 9))
        lifts = np.cumsum(rng.uniform(0.5, 3.0, count))
        rise = rng.uniform(0.0, 1.0, count) + 0.01
        rows.append((lifts, np.cumsum(rise) if place % 2 else rng.uniform(0.1, 5.0, count)))
    return rows


def test_curve_slope_and_mean_are_scipy_s() -> None:
    rng = np.random.default_rng(29)
    for lifts, values in curves():
        ours = LiftCurve(lifts, values)
        scipy = PchipInterpolator(np.r_[0.0, lifts], np.r_[0.0, values])
        wanted = rng.uniform(0.0, lifts[-1], 20)
        np.testing.assert_allclose(ours.at(wanted), scipy(wanted), rtol=1e-11, atol=1e-12)
        np.testing.assert_allclose(
            ours.slope(wanted), scipy.derivative()(wanted), rtol=1e-8, atol=1e-9
        )
        low, high = sorted(rng.uniform(0.0, lifts[-1], 2))
        mean = float(scipy.integrate(low, high)) / (high - low)
        assert float(ours.mean(low, high)) == pytest.approx(mean, rel=1e-10)


def test_many_curves_together_are_each_alone() -> None:
    for lifts, values in curves():
        together = np.stack((values, 2.0 * values))
        mean = means_over_own_lifts(lifts, together)
        alone = float(LiftCurve(lifts, values).mean(float(lifts[0]), float(lifts[-1])))
        np.testing.assert_allclose(mean, [alone, 2.0 * alone], rtol=1e-12)


def test_between_lifts_the_curve_stays_between_its_points() -> None:
    for lifts, values in curves():
        curve = LiftCurve(lifts, values)
        for low, high in zip(curve.x, curve.x[1:], strict=False):
            inside = curve.at(np.linspace(low, high, 21))
            ends = curve.at(np.array([low, high]))
            assert inside.min() >= ends.min() - 1e-12
            assert inside.max() <= ends.max() + 1e-12


def test_sensitivities_of_a_figure_add_up_to_one() -> None:
    """All points 1 % up make any figure of the curve 1 % more (Euler)."""
    for lifts, values in curves():
        middle = np.array([lifts[0], (lifts[0] + lifts[-1]) / 2.0])
        _, weights = figures_and_sensitivities(lifts, values, partial(LiftCurve.at, x=middle))
        np.testing.assert_allclose(weights.sum(axis=1), 1.0, rtol=1e-6)
        np.testing.assert_allclose(weights[0], np.eye(len(lifts))[0], atol=1e-8)
