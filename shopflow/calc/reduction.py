"""From the readings of one bench session to its figures."""

from __future__ import annotations

from collections.abc import Sequence
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
    """As indicated, at the leakage pressure."""

    uncertainty: Uncertainties
    lifts: tuple[float, ...]
    runs: tuple[tuple[float, ...], ...]
    """Indicated volume flow of each run at each lift."""

    calibration_key: tuple[str, str] | None = None
    """Bench and calibration, where both are named: what two sessions may have in common."""

    leakage_pressure: float | None = None
    """Pressure the leakage was measured at; None for the test pressure."""

    run_pressures: tuple[tuple[float, ...], ...] | None = None
    """Pressure across the head at each run; None where all were at the test pressure."""

    air_correction: float = 1.0
    """What turns an indicated flow into one at room density, where the meter's air is not the
    room's."""

    meter_doubts: tuple[str, ...] = ()
    """What puts the metering outside the standard it goes by, in words."""


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


@dataclass(frozen=True, slots=True)
class Curve:
    """What is kept of a session, and what a gain in mean flow is worked out from; in m and m3/s."""

    reference_pressure: float
    mean_flow: float
    peak_flow: float
    lifts: Floats
    flow: Floats


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

    @property
    def curve(self) -> Curve:
        """Its flow over lift, with the mean and the most of it."""
        stated = self.test.reference_pressure
        return Curve(stated, self.mean_flow, self.peak_flow, self.lifts, self.flow)

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

    A run at a pressure of its own, and a leakage at its own, are restated at the test pressure by
    the root of the pressures; the effective area takes each run's own ideal flux instead.

    Uncertainty after JCGM 100:2008, relative standard components combined by root sum of squares.
    """
    with np.errstate(all="ignore"):
        rho = float(density(test.barometer, test.temperature, test.humidity))
        if not (np.isfinite(rho) and rho > 0.0):
            raise ValueError("no air density can be worked out from these air data")
        reduced = reduce_arrays(test, rho)
        if not reduced.is_workable:
            raise ValueError("these readings give figures too large or too small to work with")
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
    scales = _pressure_scales(test)
    runs = run_statistics(_scaled(test.runs, scales)).shaped(lifts.shape)
    leakage = test.leakage * _leakage_scale(test)
    factor = test.calibration_factor * test.air_correction
    corrected = corrected_flow(runs.mean, leakage, factor)
    flow = at_reference_pressure(corrected, test.test_pressure, test.reference_pressure)
    effective = _effective_area(test, rho, corrected, factor)
    velocity = None if test.port_area is None else mean_velocity(flow, test.port_area)
    valve = test.valve
    least = None if valve.seat is None else least_valve_area(valve.head_diameter, valve.seat, lifts)
    return Reduction(
        test=test,
        air_density=rho,
        lifts=lifts,
        run_counts=runs.counts,
        flow=flow,
        mass_flow=effective * ideal_flux(test, rho, test.test_pressure),
        effective_area=effective,
        cd_curtain=effective / (curtain_area(valve.head_diameter, lifts) * valve.count),
        cd_head=effective / (head_area(valve.head_diameter) * valve.count),
        cd_least_area=None if least is None else effective / (least * valve.count),
        velocity=velocity,
        kinetic_energy_flux=None if velocity is None else kinetic_energy_flux(rho, flow, velocity),
        budget=flow_budget(runs, leakage, flow, slope(lifts, flow), test.uncertainty),
    )


def ideal_flux(test: FlowTest, rho: float, pressure: Array) -> Array:
    """Ideal mass flow per area across the head, in the direction of the test's side.

    Parameters
    ----------
    test : for its side and barometer
    rho : density of the room air, kg/m3
    pressure : difference across the head, Pa

    Returns
    -------
    kg/(s m2)
    """
    upstream, downstream = test.barometer, test.barometer - pressure
    if test.side == "exhaust":
        upstream, downstream = test.barometer + pressure, test.barometer
    return ideal_mass_flux(upstream, rho * upstream / test.barometer, downstream)


def _effective_area(test: FlowTest, rho: float, corrected: Floats, factor: float) -> Floats:
    """Corrected mass flow over the ideal flux, at each run's own pressure where it has one."""
    if test.run_pressures is None:
        return np.asarray(rho * corrected / ideal_flux(test, rho, test.test_pressure))
    leakage = test.leakage / np.sqrt(test.leakage_pressure or test.test_pressure)
    areas = []
    for runs, pressures in zip(test.runs, test.run_pressures, strict=True):
        across = np.asarray(pressures)
        passed = corrected_flow(np.asarray(runs), leakage * np.sqrt(across), factor)
        areas.append(np.mean(rho * passed / ideal_flux(test, rho, across)))
    return np.asarray(areas)


def _pressure_scales(test: FlowTest) -> list[list[float]] | None:
    """What restates each run at the session's test pressure; None where all were at it."""
    if test.run_pressures is None:
        return None
    return [
        [float(at_reference_pressure(1.0, found, test.test_pressure)) for found in pressures]
        for pressures in test.run_pressures
    ]


def _scaled(
    runs: tuple[tuple[float, ...], ...], scales: list[list[float]] | None
) -> Sequence[Sequence[float]]:
    if scales is None:
        return runs
    return [
        [run * scale for run, scale in zip(row, row_scales, strict=True)]
        for row, row_scales in zip(runs, scales, strict=True)
    ]


def _leakage_scale(test: FlowTest) -> Array:
    """What restates the leakage at the session's test pressure."""
    if test.leakage_pressure is None:
        return 1.0
    return at_reference_pressure(1.0, test.leakage_pressure, test.test_pressure)
