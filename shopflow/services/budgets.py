"""What each component adds to the uncertainty of a session's flows."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf

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
    columns = (reduction.lifts, budget.runs, budget.calibration, budget.pressure, budget.lift)
    rows = []
    for runs, values in zip(reduction.test.runs, zip(*columns, strict=True), strict=True):
        lift, *parts = map(float, values)
        by_runs, calibration, pressure, setting = parts
        freedom_of_runs = len(runs) - 1 if len(runs) > 1 else inf
        freedom = effective_degrees_of_freedom(parts, (freedom_of_runs, inf, inf, inf))
        together = hypot(*parts)
        rows.append(
            BudgetRow(lift, by_runs, calibration, pressure, setting, together, float(freedom))
        )
    return rows
