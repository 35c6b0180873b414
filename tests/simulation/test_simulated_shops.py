"""Simulated comparisons: the short form, seeded; the long form prints its table."""

from __future__ import annotations

import functools
import sys

import numpy as np
import pytest

from shopflow.calc.verdicts import Verdict
from tests.simulation.cases import (
    BENCH,
    BY_POINTS,
    CAREFUL,
    CASES,
    FOUR_LIFTS,
    GAIN,
    UNCHANGED,
    Outcome,
    compare_files,
    coverage,
    files,
    is_called,
    padding,
    simulate,
)
from tests.simulation.shop import drawn, session_file

pytestmark = pytest.mark.slow

PAIRS = 100
POINT_PAIRS = 300
LONG_PAIRS = 2000
SEED = 20261129

Outcomes = dict[str, Outcome]


@functools.cache
def simulated(name: str) -> Outcome:
    """A case, once for all tests that look at it; those with points at three times the length."""
    return simulate(name, POINT_PAIRS if name in BY_POINTS else PAIRS, SEED)


@pytest.fixture(scope="module")
def outcomes() -> Outcomes:
    return {name: simulated(name).first(PAIRS) for name in CASES}


@pytest.mark.parametrize("name", UNCHANGED)
def test_an_unchanged_head_is_seldom_called_changed(outcomes: Outcomes, name: str) -> None:
    assert outcomes[name].any_called <= 0.08
    # Of a hundred pairs where one in twenty may be, 10 are within chance (binomial, 98.9 %).
    assert outcomes[name].mean_called <= 0.10
    assert outcomes[name].cam_called <= 0.10


def test_stated_uncertainty_covers_and_is_not_padded(outcomes: Outcomes) -> None:
    means = np.concatenate([outcome.means for outcome in outcomes.values()])
    lifts = np.concatenate([outcome.lifts for outcome in outcomes.values()])
    assert 0.92 <= coverage(means) <= 0.98
    assert 0.9 <= padding(means) <= 1.25
    assert 0.9 <= padding(lifts) <= 1.35
    over_cams = np.concatenate([outcome.cam_means for outcome in outcomes.values()])
    assert 0.92 <= coverage(over_cams) <= 0.98
    assert 0.9 <= padding(over_cams) <= 1.25


@pytest.mark.parametrize("name", BY_POINTS)
def test_points_cover_a_bench_that_does_not_read_in_proportion(name: str) -> None:
    outcome = simulated(name)
    assert len(outcome.comparisons) == POINT_PAIRS
    assert 0.92 <= coverage(outcome.means) <= 0.98
    assert 0.9 <= padding(outcome.means) <= 1.25
    assert 0.9 <= padding(outcome.lifts) <= 1.35


def test_one_factor_does_not_cover_a_bench_that_does_not_read_in_proportion() -> None:
    """The same shop, its points put down as their mean factor: what points are for."""
    before, after = (bench.but(by_factor=True) for bench in BY_POINTS["3 %, points"])
    rng = np.random.default_rng(SEED)
    rows = [compare_files(*files(before, after, rng, GAIN)) for _ in range(PAIRS)]
    assert coverage(Outcome(rows, GAIN).means) < 0.5


def test_a_true_gain_is_shown_by_careful_work(outcomes: Outcomes) -> None:
    careful = outcomes["3 %, careful"]
    assert careful.mean_called >= 0.80
    assert careful.lifts_called >= 0.60
    assert careful.cam_called >= 0.80
    assert all(c.mean_verdict != Verdict.LOSS for c in careful.comparisons)


def test_other_lifts_leave_the_mean_gain_as_it_is(outcomes: Outcomes) -> None:
    few = outcomes["3 %, lifts 10 against 4"]
    assert abs(few.means[:, 0].mean()) <= 0.3
    assert abs(few.cam_means[:, 0].mean()) <= 0.3


@pytest.mark.parametrize("runs", [1, 2])
@pytest.mark.parametrize("lifts", [BENCH.lifts, FOUR_LIFTS, (6.0,)])
def test_one_division_at_one_lift_is_never_a_gain(runs: int, lifts: tuple[float, ...]) -> None:
    rng = np.random.default_rng(SEED)
    bench = BENCH.but(lifts=lifts, runs=1, uncertain=CAREFUL)
    before = session_file(bench, drawn(bench, rng, None, bench), rng)
    head, _, rows = before.partition("flow = ")
    first = [[run[0]] * runs for run in eval(rows)]
    for place in range(len(lifts)):
        for step in (CAREFUL.division, -CAREFUL.division):
            second = [[round(run + step * (at == place), 6) for run in row]
                      for at, row in enumerate(first)]  # fmt: skip
            comparison = compare_files(f"{head}flow = {first}", f"{head}flow = {second}")
            assert not any(is_called(point.verdict) for point in comparison.points)
            assert not is_called(comparison.mean_verdict)


def test_calibration_alone_states_nothing() -> None:
    rng = np.random.default_rng(SEED)
    bench = BENCH.but(runs=1)
    lines = session_file(bench, drawn(bench, rng, None, bench), rng).splitlines()
    gone = ("pressure =", 'lift = "', "resolution", 'leakage = "0.2', "density")
    bare = "\n".join(line for line in lines if not line.startswith(gone))
    comparison = compare_files(bare, bare)
    assert {point.verdict for point in comparison.points} == {Verdict.NOT_STATED}
    assert comparison.mean_verdict == Verdict.NOT_STATED
    assert comparison.mean_area_gain_expanded_uncertainty_percent is None


@pytest.mark.long
def test_every_case_at_length() -> None:
    """Prints the table of tests/benchmarks/README.md."""
    by_name = {name: simulate(name, LONG_PAIRS, SEED) for name in CASES}
    print(table(by_name), file=sys.stderr)
    for name in UNCHANGED:
        assert by_name[name].any_called <= 0.06, name
        assert by_name[name].mean_called <= 0.065, name
    for name, outcome in by_name.items():
        assert 0.92 <= coverage(outcome.means) <= 0.98, name
    means = np.concatenate([outcome.means for outcome in by_name.values()])
    assert 0.9 <= padding(means) <= 1.25
    gained = by_name["3 %, lifts 10 against 4"].means[:, 0]
    assert abs(gained.mean()) <= 0.3


def table(outcomes: Outcomes) -> str:
    """Outcome of each case, as Markdown."""
    lines = [
        "| case | any lift called | mean called | mean covered | U over errors, mean | lift |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for name, outcome in outcomes.items():
        means, lifts = outcome.means, outcome.lifts
        lines.append(
            f"| {name} | {outcome.any_called:.1%} | {outcome.mean_called:.1%} | "
            f"{coverage(means):.1%} | {padding(means):.2f} | {padding(lifts):.2f} |"
        )
    return "\n".join(lines)
