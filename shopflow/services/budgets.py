"""What each component adds to the uncertainty of a session's flows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.coverage import coverage_factor_95, effective_degrees_of_freedom
from shopflow.models import BenchSession
from shopflow.services import sessions


@dataclass(frozen=True)
class BudgetRow:
    """Relative standard uncertainty of the flow at one lift (m), by component."""

    lift: float
    runs: float
    calibration: float
    pressure: float
    lift_setting: float
    combined: float
    freedom: float
    """Effective degrees of freedom; infinite where no repeats count."""

    @property
    def factor_95(self) -> float:
        """Coverage factor for 95 % at these degrees of freedom."""
        return coverage_factor_95(self.freedom)


def of_session(row: BenchSession) -> list[BudgetRow]:
    """A session's budget, lift by lift.

    What the session states of itself is taken as known; only its repeats are few.
    """
    reduction = sessions.reduction(row)
    budget = reduction.budget
    parts = (budget.runs, budget.calibration, budget.pressure, budget.lift)
    repeats = np.array([len(runs) for runs in reduction.test.runs])
    freedom_of_runs = np.where(repeats > 1, repeats - 1, np.inf)
    freedom = effective_degrees_of_freedom(parts, (freedom_of_runs, *[np.inf] * 3))
    columns = (reduction.lifts, *parts, budget.combined, freedom)
    return [BudgetRow(*map(float, values)) for values in zip(*columns, strict=True)]
