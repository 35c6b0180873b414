"""Piston travel and speed: the derivative taken by SymPy's rules afresh, and Heywood's ratio."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from shopflow.calc.machindex import mean_piston_speed
from shopflow.calc.piston import SliderCrank

STROKE, ROD, TURNS = 0.0864, 0.1435, 100.0
CRANK = SliderCrank(STROKE, ROD)


@pytest.mark.source("the triangle of crank and rod, by the law of cosines, and complex steps")
@pytest.mark.parametrize("angle", [0.0, 13.0, 74.5, 90.0, 155.0, 271.0])
def test_travel_and_its_slope(angle: float) -> None:
    """The pin at (r sin, r cos); the wrist pin above it on the bore's axis."""

    def height(turned: complex) -> complex:
        radius = STROKE / 2.0
        above = np.sqrt(ROD**2 - (radius * np.sin(turned)) ** 2 + 0j)
        return complex(radius * np.cos(turned) + above)

    turned = math.radians(angle)
    expected = STROKE / 2.0 + ROD - height(turned).real
    assert float(CRANK.travel(np.array(angle))) == pytest.approx(expected, abs=1e-15)
    slope = -height(turned + 1e-30j).imag / 1e-30
    speed = slope * 2.0 * math.pi * TURNS
    assert float(CRANK.speed(np.array(angle), TURNS)) == pytest.approx(speed, rel=1e-12, abs=1e-12)


@pytest.mark.source("Heywood (1988), eq. 2.11, from memory: instantaneous over mean piston speed")
@pytest.mark.parametrize("angle", [20.0, 73.0, 120.0])
def test_ratio_to_the_mean_speed(angle: float) -> None:
    ratio, turned = 2.0 * ROD / STROKE, math.radians(angle)
    root = math.sqrt(ratio**2 - math.sin(turned) ** 2)
    expected = math.pi / 2.0 * math.sin(turned) * (1.0 + math.cos(turned) / root)
    speed = float(CRANK.speed(np.array(angle), TURNS)) / mean_piston_speed(STROKE, TURNS)
    assert speed == pytest.approx(expected, rel=1e-12)


@pytest.mark.source("SciPy: quad over the stroke, minimize_scalar")
def test_mean_and_greatest_speed() -> None:
    total, _ = quad(lambda angle: float(CRANK.speed(np.array(angle), TURNS)), 0.0, 180.0)
    assert total / 180.0 == pytest.approx(mean_piston_speed(STROKE, TURNS), rel=1e-9)
    best = minimize_scalar(
        lambda angle: -float(CRANK.speed(np.array(angle), TURNS)), bounds=(40, 120),
        method="bounded", options={"xatol": 1e-9},
    )  # fmt: skip
    speed, angle = CRANK.greatest_speed(TURNS)
    assert speed == pytest.approx(-best.fun, rel=1e-7)
    assert angle == pytest.approx(best.x, abs=0.01)


def test_a_very_long_rod_moves_as_a_sine() -> None:
    speed, angle = SliderCrank(STROKE, 1e6).greatest_speed(TURNS)
    assert speed == pytest.approx(math.pi / 2.0 * mean_piston_speed(STROKE, TURNS), rel=1e-9)
    assert angle == pytest.approx(90.0, abs=0.01)


@given(st.floats(0.0, 0.999))
def test_a_rod_that_cannot_pass_the_crank_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="rod"):
        SliderCrank(STROKE, share * STROKE / 2.0)
