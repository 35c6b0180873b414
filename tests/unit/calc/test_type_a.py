"""Type A uncertainty: a printed example, and how often its interval holds the known mean."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from shopflow.calc.type_a import standard_uncertainty

PRINTED = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
    100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]  # fmt: skip


@pytest.mark.source("JCGM 100:2008, 4.4.3: twenty indications, s 1.489, s/sqrt(20) 0.333")
def test_independent_samples_have_the_standard_deviation_of_the_mean():
    # As printed they are sorted; in this order each is unlike the one before.
    apart = [
        value for pair in zip(PRINTED[:10], reversed(PRINTED[10:]), strict=True) for value in pair
    ]
    assert standard_uncertainty(apart) == pytest.approx(0.333, abs=5e-4)


def of_first_order(rng: np.random.Generator, correlation: float, count: int) -> NDArray[np.float64]:
    """Noise in which each sample takes after the one before; mean 0."""
    steps = rng.normal(size=count + 200)
    for place in range(1, len(steps)):
        steps[place] += correlation * steps[place - 1]
    return steps[200:]


@pytest.mark.source(
    "Simulation of a known mean: NIST/SEMATECH e-Handbook 6.4.4.2.1, AR(1) noise, from memory"
)
@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.6])
def test_the_mean_is_within_twice_its_uncertainty_though_samples_are_alike(correlation: float):
    rng = np.random.default_rng(7)
    runs = [of_first_order(rng, correlation, 60) for _ in range(1_500)]
    held = np.mean([abs(run.mean()) < 2.0 * standard_uncertainty(run.tolist()) for run in runs])
    plain = np.mean([abs(run.mean()) < 2.0 * run.std(ddof=1) / np.sqrt(60) for run in runs])
    assert 0.91 < held < 0.985
    # Without the correlation it would be far too small.
    assert correlation == 0.0 or plain < held


@pytest.mark.parametrize("samples", [[], [3.0], [2.0, 2.0, 2.0]])
def test_samples_without_scatter_have_none(samples: list[float]):
    assert standard_uncertainty(samples) == 0.0
