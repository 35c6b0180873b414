"""Each result's formula with its numbers put in: the terms that it was calculated from."""

from __future__ import annotations

from math import hypot

from shopflow.calc.components import budget_at
from shopflow.calc.reduction import Reduction
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.workings.working import si


def flow_as_tested(found: Reduction, place: int) -> str:
    """Factor times the mean of the runs less the leakage."""
    test, put = found.test, found.terms
    factor, leakage = float(put.factor[place]), float(put.leakage[place])
    parts = f"calibration {si(test.calibration_factor)} × meter air {si(test.air_correction)}"
    air = f" ({parts})" if test.air_correction != 1.0 else ""
    own = " Each run was first brought to the test pressure by √(Δp ÷ its own)."
    return (
        f"{si(factor)}{air} × ({si(float(put.indicated[place]))} − {si(leakage)}) m³/s = "
        f"{si(float(found.flow_as_tested[place]))} m³/s at {si(test.test_pressure)} Pa."
        + (own if put.by_run else "")
        + (_points(found, place) if test.fitted else "")
    )


def _points(found: Reduction, place: int) -> str:
    """A calibration by points in numbers: it has turned runs and leakage into true flows."""
    fitted = found.test.fitted
    assert fitted is not None
    low, high = fitted.span
    standard = 100.0 * hypot(*(error[place] for error in fitted.errors))
    return (
        f" Runs and leakage are true flows already, by the {fitted.words}, {si(low)} to {si(high)} "
        f"m³/s; standard uncertainty of the fit at this lift {standard:.2f} %."
    )


def flow(found: Reduction, place: int) -> str:
    """Flow as tested times the root of the pressures."""
    test = found.test
    return (
        f"{si(float(found.flow_as_tested[place]))} m³/s × √({si(test.reference_pressure)} ÷ "
        f"{si(test.test_pressure)}) = {si(float(found.flow[place]))} m³/s"
    )


def flow_isentropic(found: Reduction, place: int) -> str:
    """Effective area times the ideal flux at the reference pressure, over the density."""
    return (
        f"{si(float(found.effective_area[place]))} m² × "
        f"{si(float(found.terms.reference_flux[place]))} kg/(s·m²) ÷ {si(found.air_density)} "
        f"kg/m³ = {si(float(found.flow_isentropic[place]))} m³/s"
    )


def flow_standard(found: Reduction, place: int) -> str:
    """Effective area times the flow per area in the standard air."""
    return (
        f"{si(float(found.effective_area[place]))} m² × "
        f"{si(float(found.terms.standard_flow[place]))} m/s, the ideal mass flux from "
        f"{si(found.test.reference_pressure)} Pa in that air ÷ {STANDARD_DENSITY} kg/m³ = "
        f"{si(float(found.flow_standard[place]))} m³/s"
    )


def mass_flow(found: Reduction, place: int) -> str:
    """Density times the flow as tested; of runs at pressures of their own, area times flux."""
    if found.terms.by_run:
        return (
            f"effective area × ideal mass flux at the test pressure: "
            f"{si(float(found.effective_area[place]))} m² × {si(float(found.terms.flux[place]))} "
            f"kg/(s·m²) = {si(float(found.mass_flow[place]))} kg/s"
        )
    return (
        f"{si(found.air_density)} kg/m³ × {si(float(found.flow_as_tested[place]))} m³/s = "
        f"{si(float(found.mass_flow[place]))} kg/s"
    )


def effective_area(found: Reduction, place: int) -> str:
    """Mass flow over the ideal mass flux, of each run where it has a pressure of its own."""
    area, put, density = float(found.effective_area[place]), found.terms, si(found.air_density)
    is_intake = found.test.side == "intake"
    across = "p₀ = room, p₁ = room − Δp" if is_intake else "p₀ = room + Δp, p₁ = room"
    if put.by_run:
        runs = ", ".join(
            f"{density} × {si(run.flow)} ÷ {si(run.flux)}" for run in put.by_run[place]
        )
        return (
            f"mean over the runs of ρ × flow ÷ flux at its own pressure, in kg/m³, m³/s and "
            f"kg/(s·m²): {runs}; mean {si(area)} m²; {across}"
        )
    return (
        f"{density} kg/m³ × {si(float(found.flow_as_tested[place]))} m³/s ÷ "
        f"{si(float(put.flux[place]))} kg/(s·m²) = {si(area)} m²; {across}"
    )


def cd_curtain(found: Reduction, place: int) -> str:
    """Effective area over the curtain area."""
    return _coefficient(found, place, found.terms.curtain_area[place], found.cd_curtain[place])


def cd_head(found: Reduction, place: int) -> str:
    """Effective area over the area of the valve heads."""
    return _coefficient(found, place, found.terms.head_area[place], found.cd_head[place])


def cd_least_area(found: Reduction, place: int) -> str:
    """Effective area over the least area of valve and seat."""
    area, coefficient = found.terms.least_area, found.cd_least_area
    if area is None or coefficient is None:
        return ""
    return _coefficient(found, place, area[place], coefficient[place])


def velocity(found: Reduction, place: int) -> str:
    """Flow at the reference pressure over the port area."""
    area, speed = found.test.port_area, found.velocity
    if area is None or speed is None:
        return ""
    return (
        f"{si(float(found.flow[place]))} m³/s ÷ {si(area)} m² = {si(float(speed[place]))} m/s; a "
        "mean over the section"
    )


def kinetic_energy_flux(found: Reduction, place: int) -> str:
    """Half the density times the flow times the velocity squared."""
    speed, energy = found.velocity, found.kinetic_energy_flux
    if speed is None or energy is None:
        return ""
    return (
        f"½ × {si(found.air_density)} kg/m³ × {si(float(found.flow[place]))} m³/s × "
        f"({si(float(speed[place]))} m/s)² = {si(float(energy[place]))} W"
    )


def uncertainty(found: Reduction, place: int) -> str:
    """The components of the uncertainty of the flow as tested, combined and expanded."""
    budget = budget_at(found, place)
    stated = [part for part in budget.components if part.is_stated]
    unknown = ", ".join(part.name.lower() for part in budget.components if not part.is_stated)
    if not budget.is_stated:
        return f"Not stated: {unknown}"
    parts = " + ".join(f"{si(part.contribution)}²" for part in stated)
    named = ", ".join(part.name.lower() for part in stated)
    left = f". Not stated: {unknown}" if unknown else ""
    return (
        f"{budget.factor_95:.3f} × √({parts}) m³/s = {si(budget.expanded)} m³/s; in order: "
        f"{named}{left}"
    )


def _coefficient(found: Reduction, place: int, area: float, coefficient: float) -> str:
    valve = found.test.valve
    return (
        f"D {si(1e3 * valve.head_diameter)} mm, L {si(1e3 * float(found.lifts[place]))} mm, "
        f"{valve.count} {'valves' if valve.count > 1 else 'valve'}: "
        f"{si(float(found.effective_area[place]))} m² ÷ {si(float(area))} m² = "
        f"{float(coefficient):.4f}"
    )
