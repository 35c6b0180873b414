"""Worked examples of supplement 1 to the guide: first-order sums as here, and draws of each model.

The results are printed in JCGM 101:2008, section 9; those of 9.2.4 to 9.5 are from memory, and
the draws come out at every one of them. Where the first order does not hold the supplement says by
how much, and so do these.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shopflow.calc.coverage import effective_degrees_of_freedom
from shopflow.calc.student import factor, factor_95
from shopflow.calc.uncertainty import root_sum_of_squares

DRAWS = 1_000_000
Floats = NDArray[np.float64]


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(101)


def shortest(draws: Floats, share: float = 0.95) -> tuple[float, float]:
    """The shortest interval that holds this share of the draws (7.7.4)."""
    ordered = np.sort(draws)
    inside = int(share * len(ordered))
    place = int(np.argmin(ordered[inside:] - ordered[:-inside]))
    return float(ordered[place]), float(ordered[place + inside])


def symmetric(draws: Floats) -> tuple[float, float]:
    """The interval that leaves as many draws below as above (7.7.3)."""
    low, high = np.quantile(draws, (0.025, 0.975))
    return float(low), float(high)


def rectangular(rng: np.random.Generator, deviation: float) -> Floats:
    half = math.sqrt(3.0) * deviation
    return rng.uniform(-half, half, DRAWS)


@pytest.mark.source("JCGM 101:2008, 9.2.2: four normal inputs, ± 3.92, as SciPy")
def test_the_sum_of_normal_inputs(rng: np.random.Generator) -> None:
    u = float(root_sum_of_squares(1.0, 1.0, 1.0, 1.0))
    assert factor_95(math.inf) * u == pytest.approx(3.92, abs=0.005)
    assert stats.norm.ppf(0.975, scale=2.0) == pytest.approx(3.92, abs=0.005)
    draws = rng.standard_normal((4, DRAWS)).sum(axis=0)
    assert draws.std() == pytest.approx(u, abs=0.01)
    assert symmetric(draws) == pytest.approx((-3.92, 3.92), abs=0.015)


@pytest.mark.source("JCGM 101:2008, 9.2.3: four rectangular inputs, ± 3.88, as SciPy")
def test_the_sum_of_equal_rectangular_inputs(rng: np.random.Generator) -> None:
    """First order says 3.92, a hundredth too much; 9.2.3.4 has 2 sqrt(3) (2 - (3/5)^(1/4))."""
    assert 2.0 * math.sqrt(3.0) * (2.0 - 0.6**0.25) == pytest.approx(3.88, abs=0.005)
    width = 2.0 * math.sqrt(3.0)
    sum_of_four = stats.irwinhall(4, loc=-2.0 * width, scale=width)
    assert sum_of_four.ppf(0.975) == pytest.approx(3.88, abs=0.005)
    draws = sum((rectangular(rng, 1.0) for _ in range(4)), np.zeros(DRAWS))
    assert draws.std() == pytest.approx(float(root_sum_of_squares(1, 1, 1, 1)), abs=0.01)
    assert symmetric(draws) == pytest.approx((-3.88, 3.88), abs=0.015)


@pytest.mark.source("JCGM 101:2008, 9.2.4 (from memory): one input ten times the others, ± 17.0")
def test_a_dominant_rectangular_input(rng: np.random.Generator) -> None:
    """u 10.1; first order says 19.9 where 17.0 would do: it errs to the safe side."""
    u = float(root_sum_of_squares(1.0, 1.0, 1.0, 10.0))
    assert u == pytest.approx(10.1, abs=0.05)
    assert factor_95(math.inf) * u == pytest.approx(19.9, abs=0.05)
    draws = sum((rectangular(rng, size) for size in (1.0, 1.0, 1.0, 10.0)), np.zeros(DRAWS))
    assert draws.std() == pytest.approx(u, rel=2e-3)
    assert symmetric(draws) == pytest.approx((-17.0, 17.0), abs=0.05)


@pytest.mark.source("JCGM 101:2008, 9.3 (table 6, from memory): mass calibration against a weight")
def test_the_calibration_of_a_mass(rng: np.random.Generator) -> None:
    """mg. First order 0.0539 and [1.1285, 1.3395]; with second-order terms 0.0750; drawn 0.0754
    and [1.0834, 1.3825]: the air's density matters only through a product of two errors."""
    first = float(root_sum_of_squares(0.050, 0.020))
    half = factor_95(math.inf) * first
    assert first == pytest.approx(0.0539, abs=5e-5)
    assert (1.2340 - half, 1.2340 + half) == pytest.approx((1.1285, 1.3395), abs=1e-4)
    air, weight, reference = 0.1 / math.sqrt(3.0), 1000.0 / math.sqrt(3.0), 50.0 / math.sqrt(3.0)
    product = [100_000.0 * air * u / 8000.0**2 for u in (weight, reference)]
    assert root_sum_of_squares(first, *product) == pytest.approx(0.0750, abs=5e-5)
    mass = rng.normal(100_000.0, 0.050, DRAWS) + rng.normal(1.234, 0.020, DRAWS)
    density = rng.uniform(1.10, 1.30, DRAWS) - 1.2
    buoyancy = 1 / rng.uniform(7000.0, 9000.0, DRAWS) - 1 / rng.uniform(7950.0, 8050.0, DRAWS)
    draws = mass * (1.0 + density * buoyancy) - 100_000.0
    assert draws.mean() == pytest.approx(1.2341, abs=3e-4)
    assert draws.std() == pytest.approx(0.0754, abs=2e-4)
    assert shortest(draws) == pytest.approx((1.0834, 1.3825), abs=2e-3)


COMPARISON_LOSS = {
    # r, x1: mean, first-order and true standard uncertainty, shortest 95 % interval; 1e-6.
    (0.0, 0.000): (50.0, 0.0, 50.0, (0.0, 150.0)),
    (0.0, 0.010): (150.0, 100.0, 112.0, (0.0, 367.0)),
    (0.0, 0.050): (2551.0, 500.0, 502.0, (1590.0, 3543.0)),
    (0.9, 0.000): (50.0, 0.0, 67.0, (0.0, 185.0)),
    (0.9, 0.010): (150.0, 100.0, 121.0, (13.0, 398.0)),
    (0.9, 0.050): (2551.0, 500.0, 505.0, (1628.0, 3555.0)),
}


@pytest.mark.source("JCGM 101:2008, 9.4 (tables 7 and 8, from memory): comparison loss x1² + x2²")
@pytest.mark.parametrize("case", COMPARISON_LOSS, ids=str)
def test_the_comparison_loss(rng: np.random.Generator, case: tuple[float, float]) -> None:
    """Near zero a square has no slope: there the first order says nothing, and must not be used."""
    correlation, x1 = case
    mean, first, deviation, interval = COMPARISON_LOSS[case]
    sums = root_sum_of_squares(2.0 * x1 * 0.005, 2.0 * 0.0 * 0.005)
    assert 1e6 * float(sums) == pytest.approx(first, abs=1e-9)
    item, other = 0.005 * rng.standard_normal((2, DRAWS))
    second = correlation * item + math.sqrt(1.0 - correlation**2) * other
    draws = 1e6 * ((x1 + item) ** 2 + second**2)
    assert draws.mean() == pytest.approx(mean, abs=1.5)
    assert draws.std() == pytest.approx(deviation, abs=1.0)
    # The shortest interval's place is known to about the width over the root of the draws' third.
    assert shortest(draws) == pytest.approx(interval, abs=max(1.5, 0.012 * interval[1]))


def curved_trapezoid(rng: np.random.Generator, half: float, uncertain: float) -> Floats:
    """A rectangle whose half-width is itself known within so much (6.4.3)."""
    low = -half - uncertain + 2.0 * uncertain * rng.random(DRAWS)
    return low + (-2.0 * low) * rng.random(DRAWS)


@pytest.mark.source("JCGM 101:2008, 9.5 (table 10, from memory): gauge block, 838 nm, u 32 and 36")
def test_the_calibration_of_a_gauge_block(rng: np.random.Generator) -> None:
    """First order u 32 nm with 16 degrees and [745, 931] for 99 %; drawn 36 and [745, 932]."""
    length, expansion, away, swing = 50_000_623.0, 11.5e-6, -0.1, 0.5
    parts = [
        25.0, 6.0, 4.0, 7.0, length * away * 1.0e-6 / math.sqrt(3.0),
        length * expansion * 0.050 / math.sqrt(3.0),
    ]  # fmt: skip
    freedom = float(effective_degrees_of_freedom(parts, [18, 24, 5, 8, 50, 2]))
    u = float(root_sum_of_squares(*parts))
    assert (round(u), math.floor(freedom)) == (32, 16)
    half = factor(0.01, math.floor(freedom)) * u
    assert (838.0 - half, 838.0 + half) == pytest.approx((745.0, 931.0), abs=1.0)

    def scaled(freedom: int, mean: float, scale: float) -> Floats:
        return np.asarray(mean + scale * rng.standard_t(freedom, DRAWS))

    standard, difference = scaled(18, length, 25.0), scaled(24, 215.0, 6.0)
    bench = scaled(5, 0.0, 4.0) + scaled(8, 0.0, 7.0)
    alpha = rng.uniform(9.5e-6, 13.5e-6, DRAWS)
    cycle = swing * np.sin(2.0 * math.pi * rng.random(DRAWS))
    theta = rng.normal(away, 0.2, DRAWS) + cycle
    apart = curved_trapezoid(rng, 1.0e-6, 0.1e-6)
    cooler = curved_trapezoid(rng, 0.050, 0.025)
    measured = standard * (1.0 + alpha * (theta - cooler)) + difference + bench
    draws = measured / (1.0 + (alpha + apart) * theta) - 50_000_000.0
    assert draws.mean() == pytest.approx(838.0, abs=0.6)
    assert draws.std() == pytest.approx(36.0, abs=0.6)
    assert shortest(draws, 0.99) == pytest.approx((745.0, 932.0), abs=2.5)
