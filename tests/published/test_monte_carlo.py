"""Uncertainty by Monte Carlo after JCGM 101:2008, against the budget's sums.

Every input is drawn as the budget takes it: normal about its value with its standard uncertainty.
The standard deviation of N draws is itself uncertain by s/sqrt(2N); five of those are allowed, and
one part in a thousand for what the sums leave out, that the formula is not quite straight: its
second-order terms are of the size of the square of the relative uncertainties, below 1e-4 here.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from shopflow.calc.comparison import compare
from shopflow.calc.curve import slope
from shopflow.calc.flow import at_reference_pressure, corrected_flow
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares, run_statistics
from shopflow.testfile import read
from tests.optional import present

DRAWS = 200_000
WITHIN = 5.0 / math.sqrt(2.0 * DRAWS) + 1e-3
SESSIONS = Path(__file__).parents[2] / "seed_data" / "sessions"
RECEIVED, SEATS = "07-sceptre-intake-received.toml", "07-sceptre-intake-seats.toml"
SINGLE_RUNS = "06-v18t-intake-received.toml"


def session(name: str) -> Reduction:
    return reduce(read(SESSIONS / name).flow_test())


class Draws:
    """Draws of a session's flows, one column a lift."""

    def __init__(self, seed: int) -> None:
        self.random = np.random.default_rng(seed)

    def normal(self, columns: int) -> np.ndarray:
        return self.random.standard_normal((DRAWS, columns))

    def calibration(self, reduction: Reduction) -> np.ndarray:
        """Relative error of the calibration, one column."""
        return present(reduction.test.uncertainty.calibration) / COVERAGE_FACTOR * self.normal(1)

    def flows(self, reduction: Reduction, calibration: np.ndarray) -> np.ndarray:
        """Pressure and lift are off alike over a session; the runs scatter at each lift."""
        test, stated, lifts = reduction.test, reduction.test.uncertainty, len(reduction.lifts)
        runs = run_statistics(test.runs)
        single = present(stated.repeatability) * runs.mean
        scatter = np.where(runs.counts > 1, runs.standard_error, single)
        indicated = runs.mean + scatter * self.normal(lifts)
        factor = test.calibration_factor * (1.0 + calibration)
        pressure = test.test_pressure * (1.0 + present(stated.pressure) * self.normal(1))
        corrected = corrected_flow(indicated, test.leakage, factor)
        flow = at_reference_pressure(corrected, pressure, test.reference_pressure)
        lift = present(stated.lift) * self.normal(1)
        return np.asarray(flow + slope(reduction.lifts, reduction.flow) * lift)


@pytest.mark.source("JCGM 101:2008: 200 000 draws of a whole session's inputs, fixed seed")
@pytest.mark.parametrize("name", [SEATS, SINGLE_RUNS], ids=["repeated runs", "single runs"])
def test_the_budget_of_a_session(name: str) -> None:
    answer = session(name)
    draws = Draws(20260107)
    flows = draws.flows(answer, draws.calibration(answer))
    assert flows.std(axis=0) == pytest.approx(answer.flow_standard_uncertainty, rel=WITHIN)
    noise = 5.0 * answer.flow_standard_uncertainty / math.sqrt(DRAWS)
    assert (np.abs(flows.mean(axis=0) - answer.flow) <= noise).all()


@pytest.mark.source("JCGM 101:2008: share of the draws within the expanded uncertainty, k = 2")
def test_the_expanded_uncertainty_covers_what_it_says() -> None:
    """A normal quantity lies within two standard deviations in 95.45 % of cases."""
    answer = session(SEATS)
    draws = Draws(20260108)
    flows = draws.flows(answer, draws.calibration(answer))
    covered = (np.abs(flows - answer.flow) <= answer.flow_expanded_uncertainty).mean(axis=0)
    assert covered == pytest.approx(0.9545, abs=5.0 * math.sqrt(0.9545 * 0.0455 / DRAWS) + 1e-3)


def pair(shared: bool) -> tuple[Reduction, Reduction, np.ndarray, np.ndarray]:
    """Two sessions on the same lifts, and their flows with one calibration's error or two."""
    before, after = session(RECEIVED), session(SEATS)
    assert before.lifts.tolist() == after.lifts.tolist()
    draws = Draws(20260109)
    error = draws.calibration(before)
    other = error if shared else draws.calibration(after)
    return before, after, draws.flows(before, error), draws.flows(after, other)


@pytest.mark.source("JCGM 101:2008: a gain under one calibration, drawn once for both sessions")
def test_a_gain_under_a_common_calibration() -> None:
    before, after, first, second = pair(shared=True)
    drawn = (second - first).std(axis=0)
    stated = [point.gain_expanded_uncertainty for point in compare(before, after).points]
    assert COVERAGE_FACTOR * drawn == pytest.approx(stated, rel=WITHIN)


@pytest.mark.source("JCGM 101:2008: a ratio under one calibration, drawn once for both sessions")
def test_a_ratio_under_a_common_calibration() -> None:
    """The calibration's error falls out of it: only what each session has of its own is left."""
    before, after, first, second = pair(shared=True)
    own = root_sum_of_squares(before.budget.own, after.budget.own)
    expected = own * after.flow / before.flow
    assert (second / first).std(axis=0) == pytest.approx(expected, rel=WITHIN)


@pytest.mark.source("JCGM 101:2008: a ratio under two calibrations, each drawn")
def test_a_ratio_under_two_calibrations() -> None:
    before, after, first, second = pair(shared=False)
    every = root_sum_of_squares(before.budget.combined, after.budget.combined)
    expected = every * after.flow / before.flow
    assert (second / first).std(axis=0) == pytest.approx(expected, rel=WITHIN)
