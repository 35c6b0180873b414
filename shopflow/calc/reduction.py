"""From the readings of one bench session to its figures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.areas import Valve, curtain_area, head_area, least_valve_area
from shopflow.calc.curve import Floats, mean_over_lift, slope
from shopflow.calc.gas import ideal_mass_flux

COVERAGE_FACTOR = 2.0
"""k of every expanded uncertainty here (JCGM 100:2008, 6.2.1)."""

Side = Literal["intake", "exhaust"]


@dataclass(frozen=True, slots=True)
class Uncertainties:
    """What a session states of its own uncertainty: relative, but for the lift in m."""

    calibration: float = 0.0
    """Expanded, with coverage factor 2."""

    repeatability: float = 0.0
    """Standard, of one reading."""

    pressure: float = 0.0
    """Standard, of the test pressure."""

    lift: float = 0.0
    """Standard, of the setting of the lift, m."""


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


@dataclass(frozen=True, slots=True)
class Budget:
    """Relative standard uncertainty of the flow at each lift, by component."""

    runs: Floats
    calibration: Floats
    pressure: Floats
    lift: Floats

    @property
    def without_calibration(self) -> Floats:
        """Everything but what two sessions under one calibration share."""
        return np.sqrt(self.runs**2 + self.pressure**2 + self.lift**2)

    @property
    def combined(self) -> Floats:
        """Root sum of squares of all components."""
        return np.hypot(self.without_calibration, self.calibration)


@dataclass(frozen=True)
class Reduction:
    """A session's figures, as arrays over its lifts."""

    test: FlowTest
    air_density: float
    lifts: Floats
    flow: Floats
    """At reference pressure and room-air density, m3/s."""

    mass_flow: Floats
    effective_area: Floats
    cd_curtain: Floats
    cd_head: Floats
    cd_least_area: Floats | None
    velocity: Floats | None
    kinetic_energy_flux: Floats | None
    budget: Budget

    @property
    def flow_standard_uncertainty(self) -> Floats:
        """Standard uncertainty of the flow, m3/s."""
        return self.budget.combined * self.flow

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
    def is_finite(self) -> bool:
        """Whether every figure is a number."""
        figures = (
            self.flow,
            self.flow_expanded_uncertainty,
            self.cd_curtain,
            self.cd_head,
            self.cd_least_area,
            self.velocity,
            self.kinetic_energy_flux,
        )
        return all(values is None or bool(np.isfinite(values).all()) for values in figures)

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """The figures lift by lift."""
        nothing = [None] * len(self.lifts)

        def column(values: Floats | None) -> list[float] | list[None]:
            return nothing if values is None else values.tolist()

        return tuple(
            Point(*row)
            for row in zip(
                self.test.lifts,
                column(self.lifts / self.test.valve.head_diameter),
                [len(runs) for runs in self.test.runs],
                column(self.flow),
                column(self.flow_expanded_uncertainty),
                column(self.mass_flow),
                column(self.effective_area),
                column(self.cd_curtain),
                column(self.cd_head),
                column(self.cd_least_area),
                column(self.velocity),
                column(self.kinetic_energy_flux),
                strict=True,
            )
        )


def reduce(test: FlowTest) -> Reduction:
    r"""Work out a session's figures.

    Parameters
    ----------
    test : the session's readings and set-up, SI

    Returns
    -------
    Reduction, every array over the session's lifts

    Notes
    -----
    Corrected flow q = factor (mean indicated − leakage); at reference pressure
    q_ref = q sqrt(Δp_ref/Δp), which is a convention (it holds for incompressible flow). Mass flow
    m = ρ q with ρ of the room air. Effective area A_e = m / (ideal isentropic mass flux from
    upstream stagnation to downstream static pressure); each discharge coefficient is A_e over its
    reference area times the number of valves. Velocity is q_ref over the port area, kinetic energy
    flux ½ ρ q_ref v².

    Uncertainty after JCGM 100:2008, relative standard components combined by root sum of squares.

    Raises
    ------
    ValueError where the air data give no density, or the figures leave what a number can hold.
    """
    with np.errstate(all="ignore"):
        rho = float(density(test.barometer, test.temperature, test.humidity))
        if not (np.isfinite(rho) and rho > 0.0):
            raise ValueError("no air density can be worked out from these air data")
        reduced = _reduce(test, rho)
    if not reduced.is_finite:
        raise ValueError("these readings give figures too large or too small to work with")
    return reduced


def _reduce(test: FlowTest, rho: float) -> Reduction:
    lifts = np.asarray(test.lifts, dtype=float)
    indicated = np.array([sum(runs) / len(runs) for runs in test.runs])
    corrected = test.calibration_factor * (indicated - test.leakage)
    flow = corrected * np.sqrt(test.reference_pressure / test.test_pressure)
    mass_flow = rho * corrected
    effective = mass_flow / _ideal_flux(test, rho)
    valve = test.valve
    least = None if valve.seat is None else least_valve_area(valve.head_diameter, valve.seat, lifts)
    velocity = None if test.port_area is None else flow / test.port_area
    return Reduction(
        test=test,
        air_density=rho,
        lifts=lifts,
        flow=flow,
        mass_flow=mass_flow,
        effective_area=effective,
        cd_curtain=effective / (curtain_area(valve.head_diameter, lifts) * valve.count),
        cd_head=effective / (head_area(valve.head_diameter) * valve.count),
        cd_least_area=None if least is None else effective / (least * valve.count),
        velocity=velocity,
        kinetic_energy_flux=None if velocity is None else 0.5 * rho * flow * velocity**2,
        budget=_budget(test, lifts, indicated, flow),
    )


def _ideal_flux(test: FlowTest, rho: float) -> float:
    """Ideal mass flow per area across the head, in the direction of this side."""
    blown = test.test_pressure if test.side == "exhaust" else 0.0
    upstream = test.barometer + blown
    downstream = upstream - test.test_pressure
    return float(ideal_mass_flux(upstream, rho * upstream / test.barometer, downstream))


def _budget(test: FlowTest, lifts: Floats, indicated: Floats, flow: Floats) -> Budget:
    stated = test.uncertainty
    net = indicated - test.leakage
    spread = np.array([_standard_error(runs) for runs in test.runs])
    single = np.array([len(runs) == 1 for runs in test.runs])
    return Budget(
        runs=np.where(single, stated.repeatability * indicated, spread) / net,
        calibration=np.full_like(flow, stated.calibration / 2.0),
        pressure=np.full_like(flow, 0.5 * stated.pressure),
        lift=np.abs(slope(lifts, flow)) * stated.lift / flow,
    )


def _standard_error(runs: tuple[float, ...]) -> float:
    """Standard deviation of the mean (JCGM 100:2008, 4.2.3); zero for one run."""
    if len(runs) < 2:
        return 0.0
    return float(np.std(runs, ddof=1) / np.sqrt(len(runs)))
