"""A bench that is off by the day: an unchanged head gets no gain where the day is stated."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shopflow.calc.comparison import compare
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.verdicts import Verdict
from tests.unit.calc.sessions import CFM
from tests.unit.calc.test_area_gain import Readings, a_test

LIFTS = (2.0, 4.0, 7.0, 10.0)
FLOW = np.array([42.8, 77.0, 106.5, 123.2])
OFF = 0.006
"""Relative standard deviation of the bench from day to day."""

SCATTER = 0.002
DIVISION = 0.1
STATED = Uncertainties(0.012, None, 0.0005, 0.002e-3, leakage=0.02 * CFM, density=0.0005, day=OFF)
PAIRS = 250


def a_port(rng: np.random.Generator, day: str, off: float, stated: Uncertainties) -> Reduction:
    """The head on a day on which the bench reads this much more, two runs a lift."""
    runs = FLOW * (1.0 + off) * (1.0 + SCATTER * rng.standard_normal((2, len(LIFTS)))) + 0.6
    rows = np.round(runs / DIVISION) * DIVISION
    readings: Readings = {"lifts": LIFTS, "runs": tuple(map(tuple, rows.T.tolist()))}
    settings: dict[str, Any] = {
        "uncertainty": stated,
        "divisions": (DIVISION * CFM,) * len(LIFTS),
        "day_key": ("bench", day),
    }
    return a_test(readings, **settings)


def share_called(stated: Uncertainties, *, one_day: bool) -> float:
    """Share of pairs of tests of one unchanged head whose mean is called a gain or a loss."""
    rng, called = np.random.default_rng(61), 0
    for _ in range(PAIRS):
        offs = OFF * rng.standard_normal(2)
        if one_day:
            offs[1] = offs[0]
        first = a_port(rng, "2026-03-05", offs[0], stated)
        last = a_port(rng, "2026-03-05" if one_day else "2026-03-06", offs[1], stated)
        called += compare(first, last).mean_verdict in (Verdict.GAIN, Verdict.LOSS)
    return called / PAIRS


def test_an_unchanged_head_on_two_days_is_called_falsely_in_no_more_than_eight_of_a_hundred() -> (
    None
):
    assert share_called(STATED, one_day=False) <= 0.08


def test_left_out_the_day_makes_gains_of_nothing() -> None:
    assert share_called(replace(STATED, day=None), one_day=False) > 0.3


def test_two_tests_of_one_day_share_what_the_bench_is_off() -> None:
    assert share_called(STATED, one_day=True) <= 0.08
    rng = np.random.default_rng(62)
    pair = [a_port(rng, "2026-03-05", 0.0, STATED) for _ in range(2)]
    apart = [pair[0], a_port(rng, "2026-03-06", 0.0, STATED)]
    same, other = (
        compare(*tests).mean_area_gain_expanded_uncertainty_percent for tests in (pair, apart)
    )
    assert same is not None
    assert other is not None
    assert same < 0.6 < other
