"""The uncertainty budget of one flow, component by component, as JCGM 100 lays it out."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, sqrt
from typing import Literal

from shopflow.calc.coverage import coverage_factor_95, effective_degrees_of_freedom
from shopflow.calc.curve import slope
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR

Measure = Literal["flow", "ratio", "lift"]

ELEMENT_SHARES = {
    "Metering element's coefficient": "element",
    "Bores of the element and its pipe": "element_diameters",
    "Metering element's expansion": "element_expansion",
}
"""What a metering element adds to the uncertainty, by the name of it in a budget."""


@dataclass(frozen=True, slots=True)
class Component:
    """One source of uncertainty of a flow."""

    name: str
    kind: Literal["A", "B"]
    """A from repeats, B from anything else (JCGM 100:2008, 4.2 and 4.3)."""

    standard: float
    """Standard uncertainty of the input, SI, of what `measure` says."""

    measure: Measure
    sensitivity: float
    """Change of the flow (m3/s) per unit of the input."""

    freedom: float
    """Degrees of freedom; infinite for one taken as known."""

    @property
    def contribution(self) -> float:
        """Standard uncertainty of the flow that it alone makes, m3/s."""
        return abs(self.sensitivity) * self.standard


@dataclass(frozen=True, slots=True)
class FlowBudget:
    """Every component of a flow's uncertainty at one lift."""

    lift: float
    flow: float
    components: tuple[Component, ...]

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, m3/s."""
        return hypot(*(found.contribution for found in self.components))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom, by Welch and Satterthwaite."""
        return float(
            effective_degrees_of_freedom(
                [found.contribution for found in self.components],
                [found.freedom for found in self.components],
            )
        )

    @property
    def factor_95(self) -> float:
        """Coverage factor for 95 % at these degrees of freedom."""
        return coverage_factor_95(self.freedom)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty with k = 2, m3/s."""
        return COVERAGE_FACTOR * self.combined

    @property
    def expanded_95(self) -> float:
        """Expanded uncertainty for 95 %, m3/s."""
        return self.factor_95 * self.combined


def budget_at(reduction: Reduction, place: int) -> FlowBudget:
    """The budget of a session's flow at one of its lifts.

    Parameters
    ----------
    reduction : the session's figures
    place : which lift, from 0

    Notes
    -----
    The product of each standard uncertainty and its sensitivity is the component that the session's
    budget holds for it. What a session states of itself is taken as known; only repeats are few.
    Source: JCGM 100:2008, 5.1.2, annex H for the layout, G.4.1 for the degrees of freedom.
    """
    test, stated = reduction.test, reduction.test.uncertainty.numbers()
    flow, runs = float(reduction.flow[place]), int(reduction.run_counts[place])
    factor = test.calibration_factor * test.air_correction
    per_reading = factor * sqrt(test.reference_pressure / test.test_pressure)
    by_runs = float(reduction.budget.runs[place]) * flow / per_reading
    steepness = float(abs(slope(reduction.lifts, reduction.flow)[place]))
    found = [
        Component("Mean of the runs", "A", by_runs, "flow", per_reading, runs - 1)
        if runs > 1
        else Component("One run, as stated", "B", by_runs, "flow", per_reading, inf),
        Component("Calibration", "B", stated["calibration"] / COVERAGE_FACTOR, "ratio", flow, inf),
        Component("Test pressure", "B", stated["pressure"], "ratio", 0.5 * flow, inf),
        Component("Lift setting", "B", stated["lift"], "lift", steepness, inf),
    ]
    found += [
        Component(name, "B", stated[share], "ratio", flow, inf)
        for name, share in ELEMENT_SHARES.items()
        if stated[share]
    ]
    return FlowBudget(float(reduction.lifts[place]), flow, tuple(found))
