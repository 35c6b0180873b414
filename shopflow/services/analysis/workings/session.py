"""How each figure of a session at a lift came about: formula, numbers put in, source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, sqrt

from shopflow.calc.across import ideal_flux
from shopflow.calc.areas import curtain_area, head_area, least_valve_area
from shopflow.calc.components import budget_at
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.models import BenchSession
from shopflow.services.analysis.workings.working import Working, curve_in_numbers, si
from shopflow.services.bench import sessions
from shopflow.units import UnitSystem


@dataclass(frozen=True)
class AtLift:
    """Every working at one lift of a session."""

    place: int
    lift: float
    readings: str
    workings: tuple[Working, ...]


def of_lift(row: BenchSession, place: int, units: UnitSystem) -> AtLift:
    """The workings at one of a session's lifts, from 0."""
    found = sessions.reduction(row)
    document = sessions.document(row)
    typed = ", ".join(map(str, document.flows[place]))
    pressures = ""
    if document.pressures:
        across = ", ".join(map(str, document.pressures[place]))
        pressures = f", at {across} {document.pressure_unit}"
    return AtLift(
        place,
        float(found.lifts[place]),
        f"{typed} {document.flow_unit}{pressures}",
        tuple(_workings(found, place, units)),
    )


def _workings(found: Reduction, place: int, units: UnitSystem) -> Iterator[Working]:
    yield _density(found, units)
    yield from _flow(found, place, units)
    yield _uncertainty(found, place, units)
    yield from _areas(found, place, units)
    yield from _motion(found, place, units)
    yield _mean(found, units)


def _mean(found: Reduction, units: UnitSystem) -> Working:
    drawn = curve_in_numbers(found.lifts, found.flow)
    return Working(
        "mean",
        "Mean flow over all lifts",
        "area under the curve, straight from point to point ÷ (last − first lift)",
        f"m³/s: {drawn}; mean {si(found.mean_flow)} m³/s",
        units.text(found.mean_flow, "flow"),
        "trapezoid rule",
    )


def _density(found: Reduction, units: UnitSystem) -> Working:
    test = found.test
    return Working(
        "density",
        "Air density",
        "ρ = p Mₐ (1 − 0.3780 xᵥ) ÷ (Z R T)",
        f"p {si(test.barometer)} Pa, T {test.temperature:.2f} K, humidity "
        f"{100.0 * test.humidity:.0f} %: ρ = {si(found.air_density)} kg/m³",
        units.text(found.air_density, "density"),
        "CIPM-2007: Picard et al., Metrologia 45 (2008) 149; for 600 to 1100 hPa, 15 to 27 °C",
    )


def _flow(found: Reduction, place: int, units: UnitSystem) -> Iterator[Working]:
    test, flow = found.test, float(found.flow[place])
    tested, area = float(found.flow_as_tested[place]), float(found.effective_area[place])
    leaked_at = test.leakage_pressure or test.test_pressure
    leakage = test.leakage * sqrt(test.test_pressure / leaked_at)
    factor = test.calibration_factor * test.air_correction
    mean = tested / factor + leakage
    air = f" (calibration {si(test.calibration_factor)} × meter air {si(test.air_correction)})"
    own = " Each run was first brought to the test pressure by √(Δp ÷ its own)."
    yield Working(
        "flow-as-tested",
        "Flow as tested",
        "q = factor × (mean of the runs − leakage), at the test pressure",
        f"{si(factor)}{air if test.air_correction != 1.0 else ''} × ({si(mean)} − {si(leakage)}) "
        f"m³/s = {si(tested)} m³/s at {si(test.test_pressure)} Pa."
        + (own if test.run_pressures else "")
        + (_points(test, place) if test.fitted else ""),
        units.text(tested, "flow"),
        "definition",
    )
    yield Working(
        "flow",
        "Flow at the reference pressure, by the root",
        "Q = q × √(Δp_ref ÷ Δp)",
        f"{si(tested)} m³/s × √({si(test.reference_pressure)} ÷ {si(test.test_pressure)}) = "
        f"{si(flow)} m³/s",
        units.text(flow, "flow"),
        "the square root is a convention, exact for incompressible flow (Bernoulli)",
    )
    flux = float(ideal_flux(test, found.air_density, test.reference_pressure))
    isentropic = float(found.flow_isentropic[place])
    yield Working(
        "flow-isentropic",
        "Flow at the reference pressure, isentropic",
        "Q = A × ideal mass flux at Δp_ref ÷ ρ",
        f"{si(area)} m² × {si(flux)} kg/(s·m²) ÷ {si(found.air_density)} kg/m³ = "
        f"{si(isentropic)} m³/s",
        units.text(isentropic, "flow"),
        "Heywood (1988), appendix C",
    )


def _points(test: FlowTest, place: int) -> str:
    """A calibration by points in numbers: it has turned runs and leakage into true flows."""
    assert test.fitted is not None
    low, high = test.fitted.span
    standard = 100.0 * hypot(*(error[place] for error in test.fitted.errors))
    return (
        f" Runs and leakage are true flows already, by the {test.fitted.words}, {si(low)} to "
        f"{si(high)} m³/s; standard uncertainty of the fit at this lift {standard:.2f} %."
    )


def _uncertainty(found: Reduction, place: int, units: UnitSystem) -> Working:
    budget = budget_at(found, place)
    stated = [part for part in budget.components if part.is_stated]
    parts = " + ".join(f"{si(part.contribution)}²" for part in stated)
    named = ", ".join(part.name.lower() for part in stated)
    unknown = ", ".join(part.name.lower() for part in budget.components if not part.is_stated)
    numbers = f"{budget.factor_95:.3f} × √({parts}) m³/s = {si(budget.expanded)} m³/s; in order: "
    numbers += named + (f". Not stated: {unknown}" if unknown else "")
    return Working(
        "uncertainty",
        "Expanded uncertainty of the flow as tested",
        "U = k × √(sum of the squares of the components), k for 95 %",
        numbers if budget.is_stated else f"Not stated: {unknown}",
        units.text(budget.expanded, "flow") if budget.is_stated else "not stated",
        "JCGM 100:2008, 5.1.2 and G.4.1",
    )


def _areas(found: Reduction, place: int, units: UnitSystem) -> Iterator[Working]:
    test, valve = found.test, found.test.valve
    lift, effective = float(found.lifts[place]), float(found.effective_area[place])
    mass = float(found.mass_flow[place])
    flux = float(ideal_flux(test, found.air_density, test.test_pressure))
    side = "p₀ = room, p₁ = room − Δp" if test.side == "intake" else "p₀ = room + Δp, p₁ = room"
    yield Working(
        "mass-flow",
        "Mass flow",
        "m = ρ × q, q the corrected flow at the test pressure",
        f"{si(found.air_density)} kg/m³ × {si(mass / found.air_density)} m³/s = {si(mass)} kg/s",
        units.text(mass, "mass flow"),
        "definition",
    )
    yield Working(
        "effective-area",
        "Effective area",
        "A = m ÷ √(2γ/(γ−1) p₀ ρ₀ (r^(2/γ) − r^((γ+1)/γ))), r = p₁/p₀, γ 1.4",
        f"{si(mass)} kg/s ÷ {si(flux)} kg/(s·m²) = {si(effective)} m²; {side}",
        units.text(effective, "port area"),
        "Heywood, Internal Combustion Engine Fundamentals (1988), appendix C",
    )
    diameter, count = valve.head_diameter, valve.count
    areas = [
        ("cd-curtain", "Cd curtain", "π D L", float(curtain_area(diameter, lift))),
        ("cd-head", "Cd head", "π D² ÷ 4", float(head_area(diameter))),
    ]
    if valve.seat is not None:
        least = float(least_valve_area(diameter, valve.seat, found.lifts)[place])
        areas.append(("cd-least", "Cd least area", "least area of valve and seat", least))
    for key, name, formula, area in areas:
        whole = area * count
        yield Working(
            key,
            name,
            f"A ÷ ({formula})" + (f", {count} valves" if count > 1 else ""),
            f"D {si(1e3 * diameter)} mm, L {si(1e3 * lift)} mm: {si(effective)} m² ÷ {si(whole)} "
            f"m² = {effective / whole:.4f}",
            f"{effective / whole:.3f}",
            "Heywood (1988), section 6.3"
            + (": three stages of valve opening" if key == "cd-least" else ""),
        )


def _motion(found: Reduction, place: int, units: UnitSystem) -> Iterator[Working]:
    area = found.test.port_area
    if area is None or found.velocity is None or found.kinetic_energy_flux is None:
        return
    flow, speed = float(found.flow[place]), float(found.velocity[place])
    energy = float(found.kinetic_energy_flux[place])
    yield Working(
        "velocity",
        "Velocity",
        "v = Q ÷ port area",
        f"{si(flow)} m³/s ÷ {si(area)} m² = {si(speed)} m/s; a mean over the section",
        units.text(speed, "velocity"),
        "definition; room-air density, incompressible",
    )
    yield Working(
        "kinetic-energy",
        "Kinetic energy flux",
        "E = ½ ρ Q v²",
        f"½ × {si(found.air_density)} kg/m³ × {si(flow)} m³/s × ({si(speed)} m/s)² = "
        f"{si(energy)} W",
        units.text(energy, "power"),
        "definition",
    )
