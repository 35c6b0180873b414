"""Lifts tested at several pressures: the exponent of the flow, and coefficients by pressure."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, sqrt

import numpy as np

from shopflow.calc.across import ideal_flux, pressures_across
from shopflow.calc.array_types import Floats
from shopflow.calc.reduction import Reduction
from shopflow.calc.student import factor_95

FEWEST_RUNS = 3
"""Runs at a lift below which the scatter about a line says nothing."""

LEAST_SPAN = 1.15
"""Ratio of the highest to the lowest pressure from which a lift counts as tested at several:
less is a pressure that could not be held."""

SAME_PRESSURE = 0.02
"""Relative difference within which two runs are at one pressure."""

HALF = 0.5
"""Exponent of incompressible flow through an opening of constant coefficient."""


@dataclass(frozen=True, slots=True)
class AtPressure:
    """A lift at one pressure: the mean of its runs there."""

    lift: float
    lift_over_diameter: float
    pressure: float
    """Across the head, Pa."""

    ratio: float
    """Of the static pressure downstream to the stagnation pressure upstream."""

    runs: int
    flow: float
    """Corrected, at room density, m3/s."""

    area: float
    """Effective area, m2."""

    cd_head: float
    cd_curtain: float


@dataclass(frozen=True, slots=True)
class Exponent:
    """Exponent n of the flow, proportional to the power n of the pressure across the head."""

    lift: float
    lift_over_diameter: float
    runs: int
    low: float
    high: float
    """Pressures between which it was fitted, Pa."""

    value: float
    expanded_uncertainty: float
    """Of `value` for 95 %, by Student's t."""

    isentropic: float
    """Exponent of an ideal isentropic nozzle, fitted alike at the same pressures."""

    @property
    def agrees_with_half(self) -> bool:
        """True where the data allow one half."""
        return abs(self.value - HALF) <= self.expanded_uncertainty

    @property
    def agrees_with_isentropic(self) -> bool:
        """True where the data allow a coefficient that does not change with the pressure."""
        return abs(self.value - self.isentropic) <= self.expanded_uncertainty


@dataclass(frozen=True, slots=True)
class PowerFit:
    """A straight line through logarithms."""

    exponent: float
    standard_uncertainty: float
    freedom: int


def fit_power(pressures: Floats, flows: Floats, relative: Floats) -> PowerFit:
    r"""Fit the exponent of a power law by weighted least squares of the logarithms.

    .. math:: \ln q = a + n \ln \Delta p, \quad w_i = 1/u_i^2

    Parameters
    ----------
    pressures : three or more, of which two differ, Pa
    flows : at them, m3/s
    relative : relative standard uncertainty of each flow, up to a common factor where nobody
        states a repeatability

    Returns
    -------
    PowerFit with N - 2 degrees of freedom

    Notes
    -----
    The standard uncertainty of n is scaled by the scatter about the line, never below what
    `relative` says where that scatter happens to be small. Source: weighted least squares, as
    ISO/TS 28037:2010, clause 6 (from memory).

    Examples
    --------
    >>> pressure = np.array([1000.0, 2500.0, 7000.0])
    >>> round(fit_power(pressure, 0.001 * pressure**0.5, np.full(3, 0.01)).exponent, 12)
    0.5
    """
    x, y, weights = np.log(pressures), np.log(flows), relative**-2
    center_x, center_y = np.average(x, weights=weights), np.average(y, weights=weights)
    spread = float(np.sum(weights * (x - center_x) ** 2))
    exponent = float(np.sum(weights * (x - center_x) * (y - center_y))) / spread
    residuals = y - center_y - exponent * (x - center_x)
    freedom = len(x) - 2
    scatter = float(np.sum(weights * residuals**2)) / freedom
    return PowerFit(exponent, sqrt(max(1.0, scatter) / spread), freedom)


def exponents(reduction: Reduction) -> tuple[Exponent, ...]:
    """The exponent at each lift of a test that was tested at several pressures.

    Parameters
    ----------
    reduction : of a test whose runs have pressures of their own

    Returns
    -------
    one for each lift with three runs or more over a pressure ratio of 1.15 or more

    Notes
    -----
    The flow of a run is weighted by one division of the scale and the stated repeatability, each
    where it is known. The gauge's accuracy scales all pressures alike and leaves the exponent as
    it is; an offset of the gauge or of the leakage does not, and is in no uncertainty here.
    """
    test, put = reduction.test, reduction.terms
    if test.run_pressures is None or put.by_run is None:
        return ()
    rows = zip(reduction.lifts.tolist(), put.by_run, test.run_pressures, strict=True)
    return tuple(
        _exponent(reduction, index, np.array([run.flow for run in runs]), np.array(pressures))
        for index, (_, runs, pressures) in enumerate(rows)
        if len(runs) >= FEWEST_RUNS and max(pressures) >= LEAST_SPAN * min(pressures)
    )


def at_pressures(reduction: Reduction) -> tuple[AtPressure, ...]:
    """Each lift of a test at each of its pressures; nothing where all were at one.

    Parameters
    ----------
    reduction : of a test whose runs have pressures of their own
    """
    test, put = reduction.test, reduction.terms
    if test.run_pressures is None or put.by_run is None:
        return ()
    everything = [pressure for row in test.run_pressures for pressure in row]
    if max(everything) < LEAST_SPAN * min(everything):
        return ()
    points = []
    for index, (runs, pressures) in enumerate(zip(put.by_run, test.run_pressures, strict=True)):
        for group in _together(pressures):
            across = float(np.mean([pressures[run] for run in group]))
            upstream, downstream = pressures_across(test, across)
            flow = float(np.mean([runs[run].flow for run in group]))
            flux = float(np.mean([runs[run].flux for run in group]))
            area = reduction.air_density * flow / flux
            points.append(
                AtPressure(
                    lift=float(reduction.lifts[index]),
                    lift_over_diameter=float(reduction.lift_over_diameter[index]),
                    pressure=across,
                    ratio=float(downstream) / float(upstream),
                    runs=len(group),
                    flow=flow,
                    area=area,
                    cd_head=area / float(put.head_area[index]),
                    cd_curtain=area / float(put.curtain_area[index]),
                )
            )
    return tuple(points)


def _exponent(reduction: Reduction, index: int, flows: Floats, pressures: Floats) -> Exponent:
    test = reduction.test
    relative = _relative(reduction, index, flows)
    fit = fit_power(pressures, flows, relative)
    ideal = np.asarray(ideal_flux(test, reduction.air_density, pressures))
    return Exponent(
        lift=float(reduction.lifts[index]),
        lift_over_diameter=float(reduction.lift_over_diameter[index]),
        runs=len(flows),
        low=float(pressures.min()),
        high=float(pressures.max()),
        value=fit.exponent,
        expanded_uncertainty=factor_95(fit.freedom) * fit.standard_uncertainty,
        isentropic=fit_power(pressures, ideal, relative).exponent,
    )


def _relative(reduction: Reduction, index: int, flows: Floats) -> Floats:
    """Relative standard uncertainty of each flow; of equal size where nothing is stated."""
    test, factor = reduction.test, float(reduction.terms.factor[index])
    own = (test.uncertainty.repeatability or 0.0) * np.ones(len(flows))
    if test.divisions is not None:
        own = np.hypot(own, factor * test.divisions[index] / sqrt(12.0) / flows)
    return own if own.all() else np.full(len(flows), _UNKNOWN)


_UNKNOWN = 1e-12
"""So small that the scatter alone says how well the line is known."""


def _together(pressures: tuple[float, ...]) -> list[list[int]]:
    """Places of the runs at each pressure, the lowest pressure first."""
    groups: list[list[int]] = []
    last = -inf
    for place in sorted(range(len(pressures)), key=lambda run: pressures[run]):
        if log(pressures[place]) - last > SAME_PRESSURE:
            groups.append([])
            last = log(pressures[place])
        groups[-1].append(place)
    return groups
