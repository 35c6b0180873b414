"""From the readings of one bench session to its figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.air import density
from shopflow.calc.areas import Valve, curtain_area, head_area, least_valve_area
from shopflow.calc.curve import mean_over_lift, slope
from shopflow.calc.flow import (
    at_reference_pressure,
    corrected_flow,
    kinetic_energy_flux,
    mean_velocity,
)
from shopflow.calc.gas import ideal_mass_flux
from shopflow.calc.kinds import Array, Floats
from shopflow.calc.uncertainty import (
    COVERAGE_FACTOR,
    Budget,
    RunStatistics,
    Uncertainties,
    flow_budget,
    run_statistics,
)

Side = Literal["intake", "exhaust"]


@dataclass(frozen=True, slots=True)
class FlowTest:
    """One bench session in SI: pressures in Pa, temperature in K, lengths in m, flows in m3/s."""

    side: Side
    barometer: float
    temperature: float
    humidity: float
    valve: Valve
    port_area: float | None
    test_pressure: float
    reference_pressure: float
    calibration_factor: float
    leakage: float
    """As indicated, at the test pressure."""

    uncertainty: Uncertainties
    lifts: tuple[float, ...]
    runs: tuple[tuple[float, ...], ...]
    """Indicated volume flow of each run at each lift."""

    calibration_key: tuple[str, str] | None = None
    """Bench and calibration, where both are named: what two sessions may have in common."""


@dataclass(frozen=True, slots=True)
class Point:
    """The figures at one lift, in SI; the keys of the session file's JSON."""

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
    """At test pressure, kg/s."""

    effective_area: Floats
    cd_curtain: Floats
    cd_head: Floats
    cd_least_area: Floats | None
    velocity: Floats | None
    kinetic_energy_flux: Floats | None
    budget: Budget

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
    def mean_flow(self) -> float:
        """Mean flow over the lifts, m3/s."""
        return mean_over_lift(self.lifts, self.flow)

    @property
    def peak_flow(self) -> float:
        """The most it flowed at any lift, m3/s."""
        return float(self.flow.max())

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """The figures lift by lift."""
        nothing = [None] * len(self.lifts)
        columns = [nothing if column is None else column.tolist() for column in self._columns()]
        return tuple(Point(*row) for row in zip(*columns, strict=True))

    @property
    def is_workable(self) -> bool:
        """Whether every figure is a number that can be squared or divided by another's."""
        figures = [column for column in (*self._columns(), self.air_density) if column is not None]
        return bool((self.flow > 1.0 / LARGEST).all()) and all(
            bool((np.abs(figure) < LARGEST).all()) for figure in figures
        )

    def _columns(self) -> list[Array | None]:
        """An array over the lifts for each field of Point."""
        return [getattr(self, _ARRAYS.get(name, name)) for name in Point.__slots__]


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

    Uncertainty after JCGM 100:2008, relative standard components combined by root sum of squares.
    """
    with np.errstate(all="ignore"):
        rho = float(density(test.barometer, test.temperature, test.humidity))
        if not (np.isfinite(rho) and rho > 0.0):
            raise ValueError("no air density can be worked out from these air data")
        reduced = _reduce(test, rho)
        if not reduced.is_workable:
            raise ValueError("these readings give figures too large or too small to work with")
    return reduced


def _reduce(test: FlowTest, rho: float) -> Reduction:
    lifts = np.asarray(test.lifts, dtype=float)
    runs = run_statistics(test.runs)
    corrected = corrected_flow(runs.mean, test.leakage, test.calibration_factor)
    flow = at_reference_pressure(corrected, test.test_pressure, test.reference_pressure)
    mass_flow = rho * corrected
    effective = mass_flow / _ideal_flux(test, rho)
    velocity = None if test.port_area is None else mean_velocity(flow, test.port_area)
    valve = test.valve
    least = None if valve.seat is None else least_valve_area(valve.head_diameter, valve.seat, lifts)
    return Reduction(
        test=test,
        air_density=rho,
        lifts=lifts,
        run_counts=runs.counts,
        flow=flow,
        mass_flow=mass_flow,
        effective_area=effective,
        cd_curtain=effective / (curtain_area(valve.head_diameter, lifts) * valve.count),
        cd_head=effective / (head_area(valve.head_diameter) * valve.count),
        cd_least_area=None if least is None else effective / (least * valve.count),
        velocity=velocity,
        kinetic_energy_flux=None if velocity is None else kinetic_energy_flux(rho, flow, velocity),
        budget=_budget(test, runs, lifts, flow),
    )


def _ideal_flux(test: FlowTest, rho: float) -> float:
    """Ideal mass flow per area across the head, in the direction of this side."""
    upstream = downstream = test.barometer
    if test.side == "intake":
        downstream -= test.test_pressure
    else:
        upstream += test.test_pressure
    return float(ideal_mass_flux(upstream, rho * upstream / test.barometer, downstream))


def _budget(test: FlowTest, runs: RunStatistics, lifts: Floats, flow: Floats) -> Budget:
    return flow_budget(runs, test.leakage, flow, slope(lifts, flow), test.uncertainty)
