"""Repeatability of a bench, learned from the repeats of its own flow tests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

from shopflow.calc.flowtest import FlowTest
from shopflow.calc.student import NORMAL_95, factor_95
from shopflow.calc.uncertainty import run_statistics

FEWEST = 10
"""Degrees of freedom below which history says too little of a bench; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Relative standard deviation of one reading, pooled over tests."""

    relative: float
    freedom: int
    tests: int

    @property
    def as_known(self) -> float:
        """Value that may be stated as if it were known: widened by Student's t for so few
        repeats."""
        return self.relative * factor_95(self.freedom) / NORMAL_95


def pooled_repeatability(tests: Iterable[FlowTest]) -> Repeatability | None:
    r"""Scatter of one reading, pooled over every repeated lift of every test.

    .. math:: s^2 = \sum \left(\frac{x - \bar x}{\bar x}\right)^2 / \sum (n - 1)

    Parameters
    ----------
    tests : of one range; where they read a pressure difference the scatter is of that

    Returns
    -------
    Repeatability; None for fewer than ten degrees of freedom, or where no repeat ever differed

    Notes
    -----
    Source: JCGM 100:2008, 4.2.4 and H.3.6 (pooled variance).
    """
    squares, freedom, count = 0.0, 0, 0
    for test in tests:
        runs = run_statistics(test.restated_runs)
        repeats = int((runs.counts - 1).sum())
        if not repeats:
            continue
        scale = test.uncertainty.reading_exponent
        variances = runs.counts * (runs.counts - 1) * (runs.standard_error / runs.mean) ** 2
        squares += float(variances.sum()) / scale**2
        freedom += repeats
        count += 1
    if freedom < FEWEST or squares <= 0.0:
        return None
    return Repeatability(sqrt(squares / freedom), freedom, count)
