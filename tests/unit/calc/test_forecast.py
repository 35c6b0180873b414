"""Forecasts: published examples, an independent computation, and simulated shops of known truth."""

from __future__ import annotations

from functools import cache
from math import sqrt

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.array_types import Floats
from shopflow.calc.forecast import CHANCES, FEWEST_CASES, NOMINAL, Case, Pooled, forecast
from shopflow.calc.mixture import NormalMixture, normal_chance
from tests.optional import present

EFFECTS = (28, 8, -3, 7, -1, 1, 18, 12)
ERRORS = (15, 10, 16, 11, 9, 11, 10, 18)
SCHOOLS = [Case(*row) for row in zip("ABCDEFGH", EFFECTS, ERRORS, strict=True)]
NONE = np.zeros(1)

POSTERIORS = {
    "A": (-2, 7, 10, 16, 31), "B": (-5, 3, 8, 12, 23), "C": (-11, 2, 7, 11, 19),
    "D": (-7, 4, 8, 11, 21), "E": (-9, 1, 5, 10, 18), "F": (-7, 2, 6, 10, 28),
    "G": (-1, 7, 10, 15, 26), "H": (-6, 3, 8, 13, 33),
}  # fmt: skip
"""From memory; printed from 200 draws, so that the outer ones are off by several units."""

PAST = [
    Case("four", 0.051, 0.006), Case("four", 0.034, 0.009), Case("four", 0.072, 0.007),
    Case("six", 0.021, 0.008), Case("six", 0.044, 0.006), Case("twin", 0.095, 0.012),
]  # fmt: skip


@pytest.mark.source("Eight schools, Rubin (1981): complete pooling, 7.7 ± 4.1")
def test_schools_pooled_completely() -> None:
    centre = Pooled.of(SCHOOLS, NONE, NONE).centre()
    assert centre.mean == pytest.approx(7.7, abs=0.05)
    assert float(centre.deviations[0]) == pytest.approx(4.1, abs=0.05)


@pytest.mark.source("Eight schools: BDA3, table 5.3, flat prior of τ (from memory)")
def test_schools_pooled_in_part() -> None:
    pooled = Pooled.of(SCHOOLS, within=NONE)
    for school, printed in POSTERIORS.items():
        quantiles = pooled.effect(school).quantiles((0.025, 0.25, 0.5, 0.75, 0.975))
        assert quantiles[1:4] == pytest.approx(printed[1:4], abs=1.5), school
        assert (quantiles[0], quantiles[4]) == pytest.approx((printed[0], printed[4]), abs=10)
    assert pooled.effect("A").quantiles((0.025, 0.5, 0.975)) == pytest.approx((-2, 10, 31), abs=1)


@pytest.mark.source("Riley, Higgins, Deeks, BMJ 342 (2011), as in pimeta: t of 8 degrees, by hand")
def test_the_published_prediction_interval_roughly() -> None:
    # The ten studies are not reachable, so ten of equal error stand in that give the printed
    # summary: t of 9 degrees is its interval, and the spread between them its τ².
    centre, between = -0.3341, 0.0282
    error = (-0.1613 + 0.5068) / 2.0 / stats.t.ppf(0.975, 9)
    half = stats.t.ppf(0.975, 8) * sqrt(between + error**2)
    assert (centre - half, centre + half) == pytest.approx((-0.7598, 0.0917), abs=1e-3)
    own = sqrt(10.0 * error**2 - between)
    scores = stats.norm.ppf((np.arange(10) + 0.5) / 10)
    values = centre + scores / scores.std(ddof=1) * sqrt(10.0) * error
    studies = [Case(index, value, own) for index, value in enumerate(values.tolist())]
    low, high = Pooled.of(studies, within=NONE).effect("new").quantiles((0.025, 0.975))
    # A flat prior of τ has its doubt of τ in the interval, and the closed form has not.
    assert 1.0 < (high - low) / (2.0 * half) < 1.35
    assert (low + high) / 2.0 == pytest.approx(centre, abs=0.01)


def independent(group: str, measured: float, within: float, between: float) -> Floats:
    """Mean, variance and log likelihood by the whole covariance matrix (universal kriging)."""
    kinds = np.array([case.group for case in PAST])
    values = np.array([case.value for case in PAST])
    squares = np.array([case.standard_uncertainty for case in PAST]) ** 2
    alike = (kinds[:, None] == kinds).astype(float)
    inverse = np.linalg.inv(np.diag(squares + within**2) + between**2 * alike)
    ones = np.ones(len(PAST))
    total = ones @ inverse @ ones
    centre = ones @ inverse @ values / total
    near = between**2 * (kinds == group)
    mean = centre + near @ inverse @ (values - centre)
    rest = 1.0 - near @ inverse @ ones
    own = between**2 - near @ inverse @ near + rest**2 / total
    residual = values - centre
    log_determinant = np.linalg.slogdet(inverse)[1]
    likelihood = 0.5 * (log_determinant - np.log(total) - residual @ inverse @ residual)
    return np.array([mean, own + within**2 + measured**2, likelihood])


@pytest.mark.source("Best linear unbiased prediction by the whole covariance matrix, NumPy, SciPy")
@pytest.mark.parametrize("group", ["four", "twin", "another"])
def test_a_forecast_is_that_of_the_whole_covariance(group: str) -> None:
    grid = np.linspace(0.002, 0.1, 25)
    nodes = [(within, between) for within in grid for between in grid]
    rows = np.array([independent(group, 0.008, *node) for node in nodes])
    weights = np.exp(rows[:, 2] - rows[:, 2].max())
    chance = stats.norm.cdf(0.06, rows[:, 0], np.sqrt(rows[:, 1])) @ (weights / weights.sum())
    ours = Pooled.of(PAST, grid, grid).next_case(group, 0.008)
    assert ours.chance_below(np.array([0.06]))[0] == pytest.approx(chance, abs=2e-6)


@pytest.mark.source("SciPy's normal distribution")
def test_the_chance_of_a_normal_variable() -> None:
    deviations = np.linspace(-7.0, 7.0, 2001)
    assert normal_chance(deviations) == pytest.approx(stats.norm.cdf(deviations), abs=1e-7)
    low, high = NormalMixture(np.ones(1), np.ones(1), np.full(1, 2.0)).quantiles((0.05, 0.95))
    assert (low, high) == pytest.approx(stats.norm.interval(0.9, 1.0, 2.0), abs=1e-5)


def test_silent_below_five_cases() -> None:
    assert forecast(PAST[: FEWEST_CASES - 1], "four") is None
    five = present(forecast(PAST[:FEWEST_CASES], "four"))
    assert (five.cases, five.same_group) == (5, 3)


def test_silent_on_a_new_type_while_types_are_too_few_to_tell_how_they_differ() -> None:
    assert forecast(PAST[:5], "another") is None
    assert present(forecast(PAST, "another")).same_group == 0


def test_a_type_of_few_cases_borrows_from_the_others() -> None:
    many = [Case("four", 0.05 + 0.004 * step, 0.005) for step in (-2, -1, 0, 1, 2)]
    alone = present(forecast([*many, Case("six", 0.09, 0.005), Case("twin", 0.06, 0.005)], "six"))
    assert 0.06 < alone.median < 0.09


def test_nothing_that_varies_is_no_error() -> None:
    same = [Case("four", 0.0, 0.0)] * 6
    assert present(forecast(same, "four")).median == pytest.approx(0.0, abs=1e-6)


SHOPS = 50
REGIMES = [  # types, cases, and the deviations of heads, of types and of measurements
    (1, 6, 0.015, 0.0, 0.01), (1, 14, 0.02, 0.0, 0.005), (4, 12, 0.015, 0.02, 0.006),
    (6, 18, 0.02, 0.0, 0.01), (6, 18, 0.005, 0.03, 0.01), (8, 30, 0.02, 0.02, 0.002),
]  # fmt: skip


@cache
def holdings() -> tuple[list[bool], list[bool]]:
    """Tell whether fresh heads, and heads left out of the cases, lie in their intervals."""
    random, fresh, left_out = np.random.default_rng(20261130), [], []
    for types, count, within, between, error in REGIMES:
        for _ in range(SHOPS):
            centres = 0.04 + between * random.normal(size=types)
            kinds = random.integers(0, types, count + 2)
            errors = error * random.uniform(0.6, 1.6, count + 2)
            values = centres[kinds] + np.hypot(within, errors) * random.normal(size=count + 2)
            rows = zip(kinds.tolist(), values.tolist(), errors.tolist(), strict=True)
            *cases, item, another = [Case(*row) for row in rows]
            for head in (item, another):
                interval = forecast(cases, head.group)
                fresh += [interval.holds(head.value)] if interval else []
            for index in random.integers(0, count, 4).tolist():
                others = [*cases[:index], *cases[index + 1 :]]
                interval = forecast(others, cases[index].group)
                left_out += [interval.holds(cases[index].value)] if interval else []
    return fresh, left_out


def test_nine_of_ten_of_simulated_shops_lie_inside() -> None:
    fresh, left_out = holdings()
    assert len(fresh) > 500
    assert 0.87 <= np.mean(fresh) <= 0.95, NOMINAL
    assert len(left_out) > 1000
    assert 0.90 <= np.mean(left_out) <= 0.97
    assert pytest.approx((0.05, 0.5, 0.95)) == CHANCES
