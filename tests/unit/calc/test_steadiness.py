"""Steadiness: a printed regression, and the stated risks by simulation of known truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopflow.calc.steadiness import is_steady, trend

TEMPERATURES = [
    21.521,
    22.012,
    22.512,
    23.003,
    23.507,
    23.999,
    24.513,
    25.002,
    25.503,
    26.010,
    26.511,
]
CORRECTIONS = [
    -0.171,
    -0.169,
    -0.166,
    -0.159,
    -0.164,
    -0.165,
    -0.156,
    -0.157,
    -0.159,
    -0.161,
    -0.160,
]
SPAN, COUNT, NOISE = 2.0, 21, 0.001
TIMES = np.linspace(0.0, SPAN, COUNT).tolist()


@pytest.mark.source("JCGM 100:2008, H.3 (table H.6): slope 0.00218, s 0.0035, u(slope) 0.00067")
def test_the_line_is_that_of_the_guides_example():
    line = trend(TEMPERATURES, CORRECTIONS)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_uncertainty == pytest.approx(0.00067, abs=5e-6)
    assert line.scatter == pytest.approx(0.0035, abs=5e-5)
    assert line.freedom == 9


@pytest.mark.source("Simulation of known truth: a change of just the tolerance over the window")
def test_a_reading_that_still_moves_by_the_tolerance_is_called_steady_in_one_of_two_hundred():
    rng = np.random.default_rng(11)
    tolerance = 0.006
    ramp = 1.0 + tolerance * np.asarray(TIMES) / SPAN
    runs = (ramp + rng.normal(0.0, NOISE, COUNT) for _ in range(8_000))
    passed = sum(is_steady(TIMES, run.tolist(), tolerance) for run in runs)
    # 0.5 % of 8,000 is 40; three standard deviations of that count are 19.
    assert passed <= 40 + 19


@pytest.mark.source("Simulation of known truth: a first-order lag, T no shorter than tau")
@pytest.mark.parametrize("constant", [0.3, 1.0, 2.0])
def test_what_a_slow_instrument_has_still_to_go_is_within_the_tolerance(constant: float):
    rng = np.random.default_rng(5)
    tolerance, step = 0.006, SPAN / (COUNT - 1)
    beyond = 0
    for _ in range(150):
        values: list[float] = []
        for number in range(600):
            values.append(1.0 - 0.5 * math.exp(-number * step / constant) + rng.normal(0.0, NOISE))
            if number >= COUNT and is_steady(TIMES, values[-COUNT:], tolerance):
                beyond += 0.5 * math.exp(-number * step / constant) > tolerance
                break
        else:
            raise AssertionError("never steady")
    assert beyond == 0


def test_noise_that_hides_a_trend_is_not_steady():
    rng = np.random.default_rng(3)
    noisy = (1.0 + rng.normal(0.0, 0.02, COUNT)).tolist()
    assert not is_steady(TIMES, noisy, 0.006)
    assert not is_steady(TIMES[:5], [1.0] * 5, 0.006)
    assert is_steady(TIMES, [1.0] * COUNT, 0.006)
