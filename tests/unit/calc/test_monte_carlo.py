"""Trials: the supplement's own example, Student's t, and what one digit of them is worth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.estimates import Estimates, Group, Input, Source
from shopflow.calc.monte_carlo import TRIALS, Range, draw_estimates, generator, interval

HALF = math.sqrt(3.0)
"""Half-width of a rectangle with a standard deviation of 1."""


@pytest.mark.source("JCGM 101:2008, 9.2.3: four rectangular inputs, ± 3.88; SciPy's Irwin-Hall")
def test_additive_model_of_rectangular_inputs() -> None:
    draws = sum(
        (Range(-HALF, HALF).draw(generator("9.2.3", place)) for place in range(4)),
        np.zeros(TRIALS),
    )
    answer = interval(draws)
    exact = stats.irwinhall(4, loc=-4.0 * HALF, scale=2.0 * HALF).ppf(0.975)
    # Four standard errors of an end: the density there is about 0.03.
    allowed = 4.0 * math.sqrt(0.025 * 0.975 / TRIALS) / 0.03
    assert answer.high == pytest.approx(exact, abs=allowed)
    assert (answer.low, answer.high) == pytest.approx((-3.88, 3.88), abs=allowed + 0.005)
    assert answer.median == pytest.approx(0.0, abs=allowed)


@pytest.mark.source("JCGM 101:2008, 7.9.2: tolerance for one significant digit")
def test_an_end_scatters_less_than_the_tolerance() -> None:
    """Half a unit of the first digit is at least a twentieth of the standard uncertainty."""
    ends = [interval(generator("7.9", seed).standard_normal(TRIALS)).high for seed in range(40)]
    assert 2.0 * float(np.std(ends, ddof=1)) < 0.05
    assert float(np.mean(ends)) == pytest.approx(stats.norm.ppf(0.975), abs=0.01)


@pytest.mark.source("SciPy: normal and Student's t")
@pytest.mark.parametrize("freedom", [None, 4.0])
def test_errors_of_a_test_are_drawn_as_they_were_estimated(freedom: float | None) -> None:
    source = Source(Input.RUNS, "a test", 0)
    freedoms: dict[Group, float] = {} if freedom is None else {(Input.RUNS, "a test"): freedom}
    estimates = Estimates(np.array([50.0]), {source: np.array([0.02])}, freedoms)
    answer = interval(draw_estimates(estimates, generator("t"))[:, 0])
    factor = stats.norm.ppf(0.975) if freedom is None else stats.t.ppf(0.975, freedom)
    assert answer.high == pytest.approx(50.0 * (1.0 + 0.02 * factor), abs=0.06)


def test_shared_errors_cancel_in_a_ratio() -> None:
    shared = {Source(Input.CALIBRATION, "bench"): np.array([0.05, 0.05])}
    drawn = draw_estimates(Estimates(np.array([2.0, 4.0]), shared, {}), generator("shared"))
    assert np.ptp(drawn[:, 1] / drawn[:, 0]) == pytest.approx(0.0, abs=1e-12)


def test_without_errors_a_figure_is_itself() -> None:
    drawn = draw_estimates(Estimates(np.array([3.0]), {}, {}), generator("none"))
    assert interval(drawn[:, 0]).low == interval(drawn[:, 0]).high == 3.0


def test_a_range_out_of_order_is_refused() -> None:
    with pytest.raises(ValueError, match="lower end"):
        Range(2.0, 1.0)


def test_a_range_is_moved_with_its_width() -> None:
    assert Range(1.0, 3.0).shifted(0.5) == Range(1.5, 3.5)
    assert Range(1.0, 3.0).about(10.0) == Range(9.0, 11.0)
