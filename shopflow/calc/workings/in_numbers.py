"""Each result's formula with its numbers put in: the terms that it was calculated from."""

from __future__ import annotations

from math import hypot

from shopflow.calc.components import budget_at
from shopflow.calc.reduction import Reduction
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.workings.working import si
from shopflow.texts import gettext, ngettext


def flow_as_tested(reduction: Reduction, index: int) -> str:
    """Factor times the mean of the runs less the leakage."""
    test, put = reduction.test, reduction.terms
    factor, leakage = float(put.factor[index]), float(put.leakage[index])
    numbers = {
        "factor": si(factor),
        "indicated": si(float(put.indicated[index])),
        "leakage": si(leakage),
        "flow": si(float(reduction.flow_as_tested[index])),
        "pressure": si(test.test_pressure),
    }
    sentences = [
        gettext(
            "{factor} (calibration {calibration} × meter air {air}) × ({indicated} − {leakage}) "
            "m³/s = {flow} m³/s at {pressure} Pa.",
            **numbers,
            calibration=si(test.calibration_factor),
            air=si(test.air_correction),
        )
        if test.air_correction != 1.0
        else gettext(
            "{factor} × ({indicated} − {leakage}) m³/s = {flow} m³/s at {pressure} Pa.", **numbers
        )
    ]
    if put.by_run:
        sentences.append(
            gettext("Each run was first brought to the test pressure by √(Δp ÷ its own).")
        )
    if test.fitted:
        sentences.append(_points(reduction, index))
    return " ".join(sentences)


def _points(reduction: Reduction, index: int) -> str:
    """A calibration by points in numbers: it has turned runs and leakage into true flows."""
    fitted = reduction.test.fitted
    assert fitted is not None
    low, high = fitted.span
    standard = 100.0 * hypot(*(error[index] for error in fitted.errors))
    return gettext(
        "Runs and leakage are true flows already, by the {calibration}, {low} to {high} m³/s; "
        "standard uncertainty of the fit at this lift {standard:.2f} %.",
        calibration=fitted.words,
        low=si(low),
        high=si(high),
        standard=standard,
    )


def flow(reduction: Reduction, index: int) -> str:
    """Flow as tested times the root of the pressures."""
    test = reduction.test
    return (
        f"{si(float(reduction.flow_as_tested[index]))} m³/s × √({si(test.reference_pressure)} ÷ "
        f"{si(test.test_pressure)}) = {si(float(reduction.flow[index]))} m³/s"
    )


def flow_isentropic(reduction: Reduction, index: int) -> str:
    """Effective area times the ideal flux at the reference pressure, over the density."""
    return gettext(
        "{effective_area} m² × {reference_flux} kg/(s·m²) ÷ {air_density} kg/m³ "
        "= {flow_isentropic} m³/s",
        effective_area=si(float(reduction.effective_area[index])),
        reference_flux=si(float(reduction.terms.reference_flux[index])),
        air_density=si(reduction.air_density),
        flow_isentropic=si(float(reduction.flow_isentropic[index])),
    )


def flow_standard(reduction: Reduction, index: int) -> str:
    """Effective area times the flow per area in the standard air."""
    return gettext(
        "{effective_area} m² × {standard_flow} m/s, the ideal mass flux from "
        "{reference_pressure} Pa in that air ÷ {standard_density} kg/m³ = "
        "{flow_standard} m³/s",
        effective_area=si(float(reduction.effective_area[index])),
        standard_flow=si(float(reduction.terms.standard_flow[index])),
        reference_pressure=si(reduction.test.reference_pressure),
        standard_density=STANDARD_DENSITY,
        flow_standard=si(float(reduction.flow_standard[index])),
    )


def mass_flow(reduction: Reduction, index: int) -> str:
    """Density times the flow as tested; of runs at pressures of their own, area times flux."""
    if reduction.terms.by_run:
        return gettext(
            "effective area × ideal mass flux at the test pressure: {effective_area} "
            "m² × {flux} kg/(s·m²) = {mass_flow} kg/s",
            effective_area=si(float(reduction.effective_area[index])),
            flux=si(float(reduction.terms.flux[index])),
            mass_flow=si(float(reduction.mass_flow[index])),
        )
    return gettext(
        "{air_density} kg/m³ × {flow_as_tested} m³/s = {mass_flow} kg/s",
        air_density=si(reduction.air_density),
        flow_as_tested=si(float(reduction.flow_as_tested[index])),
        mass_flow=si(float(reduction.mass_flow[index])),
    )


def effective_area(reduction: Reduction, index: int) -> str:
    """Mass flow over the ideal mass flux, of each run where it has a pressure of its own."""
    area, put, density = (
        float(reduction.effective_area[index]),
        reduction.terms,
        si(reduction.air_density),
    )
    is_intake = reduction.test.side == "intake"
    across = (
        gettext("p₀ = room, p₁ = room − Δp") if is_intake else gettext("p₀ = room + Δp, p₁ = room")
    )
    if put.by_run:
        runs = ", ".join(
            f"{density} × {si(run.flow)} ÷ {si(run.flux)}" for run in put.by_run[index]
        )
        return gettext(
            "mean over the runs of ρ × flow ÷ flux at its own pressure, in kg/m³, "
            "m³/s and kg/(s·m²): {runs}; mean {area} m²; {across}",
            runs=runs,
            area=si(area),
            across=across,
        )
    return gettext(
        "{density} kg/m³ × {flow_as_tested} m³/s ÷ {flux} kg/(s·m²) = {area} m²; {across}",
        density=density,
        flow_as_tested=si(float(reduction.flow_as_tested[index])),
        flux=si(float(put.flux[index])),
        area=si(area),
        across=across,
    )


def cd_curtain(reduction: Reduction, index: int) -> str:
    """Effective area over the curtain area."""
    return _coefficient(
        reduction, index, reduction.terms.curtain_area[index], reduction.cd_curtain[index]
    )


def cd_head(reduction: Reduction, index: int) -> str:
    """Effective area over the area of the valve heads."""
    return _coefficient(
        reduction, index, reduction.terms.head_area[index], reduction.cd_head[index]
    )


def cd_least_area(reduction: Reduction, index: int) -> str:
    """Effective area over the least area of valve and seat."""
    area, coefficient = reduction.terms.least_area, reduction.cd_least_area
    if area is None or coefficient is None:
        return ""
    return _coefficient(reduction, index, area[index], coefficient[index])


def velocity(reduction: Reduction, index: int) -> str:
    """Flow at the reference pressure over the port area."""
    area, speed = reduction.test.port_area, reduction.velocity
    if area is None or speed is None:
        return ""
    return gettext(
        "{flow} m³/s ÷ {area} m² = {speed} m/s; a mean over the section",
        flow=si(float(reduction.flow[index])),
        area=si(area),
        speed=si(float(speed[index])),
    )


def kinetic_energy_flux(reduction: Reduction, index: int) -> str:
    """Half the density times the flow times the velocity squared."""
    speed, energy = reduction.velocity, reduction.kinetic_energy_flux
    if speed is None or energy is None:
        return ""
    return gettext(
        "½ × {air_density} kg/m³ × {flow} m³/s × ({speed} m/s)² = {energy} W",
        air_density=si(reduction.air_density),
        flow=si(float(reduction.flow[index])),
        speed=si(float(speed[index])),
        energy=si(float(energy[index])),
    )


def uncertainty(reduction: Reduction, index: int) -> str:
    """The components of the uncertainty of the flow as tested, combined and expanded."""
    budget = budget_at(reduction, index)
    stated = [part for part in budget.components if part.is_stated]
    unknown = ", ".join(part.name.lower() for part in budget.components if not part.is_stated)
    if not budget.is_stated:
        return gettext("Not stated: {unknown}", unknown=unknown)
    parts = " + ".join(f"{si(part.contribution)}²" for part in stated)
    named = ", ".join(part.name.lower() for part in stated)
    text = gettext(
        "{factor:.3f} × √({parts}) m³/s = {expanded} m³/s; in order: {components}",
        factor=budget.factor_95,
        parts=parts,
        expanded=si(budget.expanded),
        components=named,
    )
    if not unknown:
        return text
    return gettext("{working}. Not stated: {components}", working=text, components=unknown)


def _coefficient(reduction: Reduction, index: int, area: float, coefficient: float) -> str:
    valve = reduction.test.valve
    return ngettext(
        "D {diameter} mm, L {lift} mm, {num} valve: {effective} m² ÷ {area} m² = {coefficient:.4f}",
        "D {diameter} mm, L {lift} mm, {num} valves: {effective} m² ÷ {area} m² = "
        "{coefficient:.4f}",
        valve.count,
        diameter=si(1e3 * valve.head_diameter),
        lift=si(1e3 * float(reduction.lifts[index])),
        effective=si(float(reduction.effective_area[index])),
        area=si(float(area)),
        coefficient=float(coefficient),
    )
