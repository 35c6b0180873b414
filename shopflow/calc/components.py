"""The uncertainty budget of one flow, component by component, as JCGM 100 lays it out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot, inf, isinf
from typing import Literal

import numpy as np

from shopflow.calc.area_errors import AreaErrors
from shopflow.calc.coverage import effective_degrees_of_freedom
from shopflow.calc.estimates import Input
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.margins import VOLUME_METER, flow_errors
from shopflow.calc.reduction import Reduction
from shopflow.calc.student import factor_95
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.texts import gettext, lazy

Measure = Literal["flow", "ratio", "lift"]

ELEMENT_SHARES = {
    "element": lazy("Metering element's coefficient"),
    "element_diameters": lazy("Bores of the element and its pipe"),
    "element_expansion": lazy("Metering element's expansion"),
}
"""Names in a budget of what a metering element contributes to the uncertainty."""


@dataclass(frozen=True, slots=True)
class Component:
    """One source of uncertainty of a flow."""

    name: str
    kind: Literal["A", "B"]
    """A from repeats, B from anything else (JCGM 100:2008, 4.2 and 4.3)."""

    standard: float | None
    """Standard uncertainty of the input, SI, of what `measure` says; None where not stated."""

    measure: Measure
    contribution: float
    """Standard uncertainty of the flow that it alone makes, m3/s; 0 where not stated."""

    freedom: float = inf
    """Degrees of freedom; infinite for one taken as known."""

    @property
    def is_stated(self) -> bool:
        """True where it is known; one stated as 0 is."""
        return self.standard is not None

    @property
    def sensitivity(self) -> float:
        """Change of the flow (m3/s) per unit of the input; 0 where the input has none."""
        return self.contribution / self.standard if self.standard else 0.0


@dataclass(frozen=True, slots=True)
class FlowBudget:
    """Every component of the uncertainty of a flow as tested, at one lift."""

    lift: float
    flow: float
    components: tuple[Component, ...]
    is_stated: bool
    """True where anything is known of the readings: otherwise no uncertainty is stated."""

    @property
    def combined(self) -> float:
        """Combined standard uncertainty, m3/s."""
        return hypot(*(part.contribution for part in self.components))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom, by Welch and Satterthwaite."""
        return float(
            effective_degrees_of_freedom(
                [part.contribution for part in self.components],
                [part.freedom for part in self.components],
            )
        )

    @property
    def factor_95(self) -> float:
        """Coverage factor for 95 % at these degrees of freedom."""
        return factor_95(self.freedom)

    @property
    def expanded(self) -> float:
        """Expanded uncertainty for 95 %, m3/s."""
        return self.factor_95 * self.combined


def budget_at(reduction: Reduction, index: int) -> FlowBudget:
    """The budget of a test's flow as tested, at one of its lifts.

    Parameters
    ----------
    reduction : the test's figures
    place : which lift, from 0

    Notes
    -----
    The components are those of the joint model (see `area_errors`); what a test states of itself
    is taken as known, only repeats are few.
    Source: JCGM 100:2008, 5.1.2, annex H for the layout, G.4.1 for the degrees of freedom.
    """
    errors = flow_errors(reduction)
    return FlowBudget(
        lift=float(reduction.lifts[index]),
        flow=float(reduction.flow_as_tested[index]),
        components=tuple(_components(reduction, errors, index)),
        is_stated=errors.is_stated,
    )


def _components(reduction: Reduction, errors: AreaErrors, index: int) -> Iterator[Component]:
    test, stated = reduction.test, reduction.test.uncertainty
    flow = float(reduction.flow_as_tested[index])
    parts = {
        name: flow * float(np.linalg.norm(np.atleast_2d(effect)[:, index]))
        for name, effect in errors.relative.items()
    }
    per_reading = test.calibration_factor * test.air_correction

    def of(name: str, source: Input, standard: float | None, measure: Measure) -> Component:
        return Component(name, "B", standard, measure, parts.get(source, 0.0))

    def read(name: str, source: Input, is_known: bool) -> Component:
        standard = parts.get(source, 0.0) / per_reading if is_known else None
        return of(name, source, standard, "flow")

    yield _runs(errors, parts.get(Input.RUNS, 0.0), per_reading)
    yield read(gettext("Scale division"), Input.RESOLUTION, test.divisions is not None)
    yield from _calibration(test, parts, flow)
    yield of(gettext("Test pressure"), Input.PRESSURE, stated.pressure, "ratio")
    yield of(gettext("Lift setting"), Input.LIFT, stated.lift, "lift")
    yield read(gettext("Leakage"), Input.LEAKAGE, stated.leakage is not None)
    if stated.day is not None:
        yield of(gettext("Bench on the day"), Input.DAY, stated.day, "ratio")
    # The flow that a volume meter shows knows nothing of the density.
    if test.density_exponent != VOLUME_METER:
        yield of(gettext("Air density"), Input.DENSITY, stated.density, "ratio")
    for share, name in ELEMENT_SHARES.items():
        if standard := getattr(stated, share):
            yield Component(str(name), "B", standard, "ratio", flow * standard)


def _calibration(test: FlowTest, parts: Mapping[Input, float], flow: float) -> Iterator[Component]:
    """The calibration's own uncertainty, and that of the fit where it is one by points."""
    name, stated = gettext("Calibration"), test.uncertainty.calibration
    if test.fitted is not None:
        fit = parts[Input.POINTS]
        yield Component(gettext("Calibration, fit of its points"), "B", fit / flow, "ratio", fit)
        name = gettext("Calibration, shared by its points")
    if stated is not None or test.fitted is None:
        standard = None if stated is None else stated / COVERAGE_FACTOR
        contribution = parts.get(Input.CALIBRATION, 0.0)
        yield Component(name, "B", standard, "ratio", contribution)


def _runs(errors: AreaErrors, contribution: float, per_reading: float) -> Component:
    """The scatter of the runs: from all repeats of the test, or as stated."""
    scatter = errors.scatter
    standard = contribution / per_reading if scatter.is_known else None
    if isinf(scatter.freedom):
        return Component(gettext("Repeatability"), "B", standard, "flow", contribution)
    name = gettext("Repeats, over all lifts")
    return Component(name, "A", standard, "flow", contribution, scatter.freedom)
