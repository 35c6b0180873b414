"""From the readings of one bench session to its figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.across import is_choked
from shopflow.calc.air import density
from shopflow.calc.area_curve import AreaCurve, area_curves
from shopflow.calc.area_errors import AreaErrors, area_errors
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.curve import mean_over_lift, slope
from shopflow.calc.flow import (
    at_reference_pressure,
    corrected_flow,
    kinetic_energy_flux,
    mean_velocity,
)
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.terms import RunTerm, Terms, terms
from shopflow.calc.uncertainty import (
    COVERAGE_FACTOR,
    Budget,
    flow_budget,
    run_statistics,
)
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class Point:
    """The results at one lift, in SI."""

    lift: float
    lift_over_diameter: float
    runs: int
    flow: float
    flow_expanded_uncertainty: float
    mass_flow: float
    effective_area: float
    cd_curtain: float
    cd_head: float
    cd_least_area: float | None
    velocity: float | None
    kinetic_energy_flux: float | None
    effective_area_expanded_uncertainty: float | None
    flow_as_tested: float
    flow_isentropic: float
    choked: bool


@dataclass(frozen=True)
class Reduction:
    """A session's figures, as arrays over its lifts."""

    test: FlowTest
    air_density: float
    lifts: Floats
    run_counts: NDArray[np.intp]
    flow: Floats
    """At reference pressure and room-air density, m3/s."""

    mass_flow: Floats
    """At the session's test pressure, kg/s."""

    effective_area: Floats
    cd_curtain: Floats
    cd_head: Floats
    cd_least_area: Floats | None
    velocity: Floats | None
    kinetic_energy_flux: Floats | None
    flow_as_tested: Floats
    """Corrected, at the test pressure and room-air density, m3/s."""

    flow_isentropic: Floats
    """Through the same effective area at the reference pressure, at room-air density, m3/s."""

    choked: NDArray[np.bool_]
    budget: Budget
    terms: Terms
    """The numbers that went into the formulas."""

    @property
    def flow_standard(self) -> Floats:
        """Through the same effective area at the reference pressure in the standard air, m3/s."""
        return self.effective_area * self.terms.standard_flow

    @property
    def opening_coefficient(self) -> Floats:
        """Effective area over the smaller of curtain and head area, which has the larger
        coefficient."""
        return np.maximum(self.cd_curtain, self.cd_head)

    @property
    def lift_over_diameter(self) -> Floats:
        """Lift over the valve head's diameter."""
        return self.lifts / self.test.valve.head_diameter

    @property
    def flow_standard_uncertainty(self) -> Floats:
        """Standard uncertainty of the flow, m3/s."""
        return np.asarray(self.budget.combined * self.flow)

    @property
    def flow_expanded_uncertainty(self) -> Floats:
        """Expanded uncertainty of the flow (k = 2), m3/s."""
        return COVERAGE_FACTOR * self.flow_standard_uncertainty

    @cached_property
    def area_errors(self) -> AreaErrors:
        """The errors behind the effective areas, of one session."""
        return area_errors(self.test, self.lifts, self.effective_area)

    @property
    def effective_area_expanded_uncertainty(self) -> Floats | None:
        """Of the effective areas for 95 %, m2; None where neither scatter nor the scale's division
        is known."""
        errors = self.area_errors
        if not errors.is_stated:
            return None
        return self.effective_area * errors.estimates(self.effective_area).expanded

    @cached_property
    def mean_flow(self) -> float:
        """Mean flow over the lifts, m3/s."""
        return mean_over_lift(self.lifts, self.flow)

    @property
    def curve(self) -> AreaCurve:
        """Its effective area over lift, with the mean and the most of it."""
        return area_curves(self.lifts[np.newaxis], self.effective_area[np.newaxis])[0]

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """The figures lift by lift."""
        nothing = [None] * len(self.lifts)
        arrays = map(self._column, Point.__slots__)
        columns = [nothing if column is None else column.tolist() for column in arrays]
        return tuple(Point(*row) for row in zip(*columns, strict=True))

    @property
    def is_workable(self) -> bool:
        """True where every result is a number that can be squared or divided by another's."""
        figures = [
            column
            for name in Point.__slots__
            if name != "effective_area_expanded_uncertainty"
            and (column := self._column(name)) is not None
        ]
        return bool((self.flow > 1.0 / LARGEST).all()) and all(
            bool((np.abs(figure) < LARGEST).all()) for figure in (*figures, self.air_density)
        )

    def _column(self, name: str) -> Array | None:
        """The array over the lifts for a field of Point."""
        return getattr(self, _ARRAYS.get(name, name))


LARGEST = 1e100
"""No figure of any bench comes near it; beyond it, squares leave what a number can hold."""

_ARRAYS = {"lift": "lifts", "runs": "run_counts"}
"""Arrays of a Reduction that are named otherwise than the field of Point."""


def reduce(test: FlowTest) -> Reduction:
    r"""Work out a session's figures.

    Parameters
    ----------
    test : the session's readings and set-up, SI

    Returns
    -------
    Reduction, every array over the session's lifts

    Raises
    ------
    ValueError where the air data give no density, or the figures leave what a number can hold

    Notes
    -----
    Corrected flow q = factor (mean indicated − leakage); at reference pressure
    q_ref = q sqrt(Δp_ref/Δp), which is a convention (it holds for incompressible flow). Mass flow
    m = ρ q with ρ of the room air. Effective area A_e = m / (ideal isentropic mass flux from
    upstream stagnation to downstream static pressure); each discharge coefficient is A_e over its
    reference area times the number of valves. Velocity is q_ref over the port area, kinetic energy
    flux ½ ρ q_ref v².

    A run at a pressure of its own, and a leakage at its own, are restated at the test pressure by
    the root of the pressures; the effective area takes each run's own ideal flux instead.

    Uncertainty after JCGM 100:2008, relative standard components combined by root sum of squares.
    """
    with np.errstate(all="ignore"):
        rho = float(density(test.barometer, test.temperature, test.humidity))
        if not (np.isfinite(rho) and rho > 0.0):
            raise ValueError(gettext("no air density can be calculated from these air data"))
        reduced = reduce_arrays(test, rho)
        if not reduced.is_workable:
            raise ValueError(
                gettext("these readings give results too large or too small to calculate with")
            )
    return reduced


def reduce_arrays(test: FlowTest, rho: Array) -> Reduction:
    """The figures of a session, or of sessions whose numbers are columns, unchecked.

    Parameters
    ----------
    test : in SI; of many sessions a row each
    rho : density of the room air, kg/m3

    Returns
    -------
    Reduction, its arrays over the lifts in the last place
    """
    lifts = np.asarray(test.lifts, dtype=float)
    runs = run_statistics(test.restated_runs).shaped(lifts.shape)
    put = terms(test, rho, lifts, runs)
    corrected = corrected_flow(put.indicated, put.leakage, put.factor)
    flow = at_reference_pressure(corrected, test.test_pressure, test.reference_pressure)
    effective = _effective_area(rho, corrected, put)
    velocity = None if test.port_area is None else mean_velocity(flow, test.port_area)
    return Reduction(
        test=test,
        air_density=rho,
        lifts=lifts,
        run_counts=runs.counts,
        flow=flow,
        mass_flow=effective * put.flux,
        effective_area=effective,
        cd_curtain=effective / put.curtain_area,
        cd_head=effective / put.head_area,
        cd_least_area=None if put.least_area is None else effective / put.least_area,
        velocity=velocity,
        kinetic_energy_flux=None if velocity is None else kinetic_energy_flux(rho, flow, velocity),
        flow_as_tested=corrected,
        flow_isentropic=effective * put.reference_flux / rho,
        choked=np.broadcast_to(is_choked(test), lifts.shape),
        budget=flow_budget(
            *(runs, put.leakage, flow, slope(lifts, flow)), test.uncertainty, test.fitted_standard
        ),
        terms=put,
    )


def _effective_area(rho: float, corrected: Floats, put: Terms) -> Floats:
    """Corrected mass flow over the ideal flux, at each run's own pressure where it has one."""
    if put.by_run is None:
        return np.asarray(rho * corrected / put.flux)
    return np.asarray([np.mean([_area_of(run, rho) for run in runs]) for runs in put.by_run])


def _area_of(run: RunTerm, rho: float) -> float:
    return rho * run.flow / run.flux
