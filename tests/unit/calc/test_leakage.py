"""Leakage over the test pressure."""

from __future__ import annotations

import numpy as np
import pytest

from shopflow.calc.leakage import leakage_curve

PRESSURES = (1000.0, 2500.0, 5000.0, 7000.0)


@pytest.mark.source("NumPy's polyfit on logarithms; the power law of ISO 9972:2015")
def test_a_power_of_the_pressure_is_found_with_its_uncertainty() -> None:
    leaks = (1.02e-4, 1.78e-4, 2.75e-4, 3.36e-4)
    curve = leakage_curve(PRESSURES, leaks, 0.06)
    slope, constant = np.polyfit(np.log(PRESSURES), np.log(leaks), 1)
    assert curve.exponent == pytest.approx(slope, rel=1e-9)
    assert curve.coefficient == pytest.approx(np.exp(constant), rel=1e-9)
    _, covariance = np.polyfit(
        np.log(PRESSURES), np.log(leaks), 1, w=[1.0 / 0.03] * 4, cov="unscaled"
    )
    place = np.array([np.log(6000.0), 1.0])
    wanted = curve.at(6000.0) * float(np.sqrt(place @ covariance @ place))
    assert curve.standard(6000.0) == pytest.approx(wanted, rel=1e-6)
    assert curve.is_power
    assert curve.is_usual


def test_points_that_no_power_fits_are_joined_one_by_one() -> None:
    curve = leakage_curve(PRESSURES, (1e-4, 3e-4, 2.9e-4, 6e-4), 0.02)
    assert not curve.is_power
    assert curve.at(2500.0) == pytest.approx(3e-4)
    assert curve.standard(2500.0) == pytest.approx(0.01 * 3e-4)
    assert curve.at(1e5) == pytest.approx(6e-4)


def test_an_exponent_that_no_leak_has_is_seen() -> None:
    steep = leakage_curve((1000.0, 4000.0), (1e-4, 9e-4), 0.05)
    assert steep.exponent == pytest.approx(np.log(9) / np.log(4))
    assert not steep.is_usual
    assert not steep.covers(900.0)
    assert steep.covers(4000.0)


def test_one_point_is_no_curve() -> None:
    with pytest.raises(ValueError, match="2 points or more"):
        leakage_curve((1000.0,), (1e-4,), 0.05)
