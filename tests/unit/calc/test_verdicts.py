"""Student's t against SciPy and JCGM 100's table, and Holm's rule."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.student import factor_95, two_sided_p
from shopflow.calc.verdicts import Verdict, holm, verdict_of


@pytest.mark.parametrize("freedom", [1, 1.3, 2, 4.7, 5.1, 12, 30.88, 199.3, 669, 1e4, 1e6, 9.9e6])
def test_t_is_scipy_s(freedom: float) -> None:
    assert factor_95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), rel=1e-10)
    for t in (0.0, 1e-6, 0.1, 0.5, 1.0, 2.0, 5.0, 30.0, 1e3):
        assert two_sided_p(t, freedom) == pytest.approx(2 * stats.t.sf(t, freedom), rel=1e-8)


@pytest.mark.source("JCGM 100:2008, table G.2")
def test_the_factors_are_the_guide_s() -> None:
    printed = {1: 12.71, 2: 4.30, 3: 3.18, 5: 2.57, 10: 2.23, 19: 2.09, 50: 2.01}
    assert {freedom: round(factor_95(freedom), 2) for freedom in printed} == printed
    assert round(factor_95(inf), 3) == 1.960


def test_less_than_one_degree_says_nothing() -> None:
    with pytest.raises(ValueError, match="less than one degree"):
        factor_95(0.5)


def test_an_infinite_t_is_no_chance() -> None:
    assert two_sided_p(inf, 4.0) == 0.0
    assert two_sided_p(inf, inf) == 0.0


def test_holm_stops_at_the_first_that_is_not_shown() -> None:
    assert holm([0.001, 0.03, 0.026]).tolist() == [True, False, False]
    assert holm([0.02, 0.02, 0.02]).tolist() == [False] * 3
    assert holm([0.05]).tolist() == [True]
    assert holm([]).tolist() == []


def test_holm_keeps_any_false_verdict_at_one_in_twenty() -> None:
    chances = np.random.default_rng(5).uniform(size=(4000, 10))
    assert np.mean([holm(row.tolist()).any() for row in chances]) == pytest.approx(0.05, abs=0.01)


def test_a_verdict_has_its_direction() -> None:
    assert verdict_of(1.02, True) == Verdict.GAIN
    assert verdict_of(0.98, True) == Verdict.LOSS
    assert verdict_of(0.98, False) == Verdict.NO_DIFFERENCE
