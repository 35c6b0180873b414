"""Workings of a section along a port."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.calc.sections import critical_flux, flow_along
from shopflow.calc.workings.working import Working, si
from shopflow.units import UnitSystem

FLUX = "ṁ ÷ A = p₀ √(γ ÷ (R T₀)) M (1 + (γ − 1) M² ÷ 2)^(−(γ + 1) ÷ (2 (γ − 1)))"


@dataclass(frozen=True, slots=True)
class Passed:
    """A flow through a section, SI."""

    flow: float
    """At room-air density, m3/s."""

    density: float
    pressure: float
    """Upstream stagnation, as the temperature."""

    temperature: float


def of_section(
    area: float, tightest: float, throat: float | None, passed: Passed | None, units: UnitSystem
) -> Iterator[Working]:
    """The workings at one section of a port.

    Parameters
    ----------
    area : of the section, m2
    tightest : the least area of the survey, m2
    throat : area of the valves' throats less the stems, m2; None where it is not known
    passed : the flow through it, where there is one
    """
    yield Working(
        "tightest",
        "Area over that of the tightest section",
        "area of this section ÷ least area of the survey",
        f"{si(area)} ÷ {si(tightest)} m² = {area / tightest:.4f}; areas as measured",
        f"{100.0 * area / tightest:.0f} %",
        "definition",
    )
    if passed is not None:
        yield from _of_flow(area, passed, units)
    if throat is not None:
        yield Working(
            "throat",
            "Area over that of the throat",
            "area of this section ÷ (π ÷ 4 × (throat² − stem²) × number of valves)",
            f"{si(area)} ÷ {si(throat)} m² = {area / throat:.4f}",
            f"{100.0 * area / throat:.0f} %",
            "definition",
        )


def _of_flow(area: float, passed: Passed, units: UnitSystem) -> Iterator[Working]:
    flow, density, pressure, temperature = (
        passed.flow, passed.density, passed.pressure, passed.temperature,
    )  # fmt: skip
    along = flow_along([area], flow, density, pressure, temperature)
    speed, mach = float(along.velocity[0]), float(along.mach[0])
    is_choked = bool(along.choked[0])
    yield Working(
        "velocity",
        "Mean velocity",
        "v = Q ÷ area",
        f"{si(flow)} m³/s ÷ {si(area)} m² = {si(speed)} m/s, at room-air density",
        units.text(speed, "velocity"),
        "definition; incompressible, a mean over the section",
    )
    most = float(critical_flux(pressure, temperature))
    came_to = (
        f"more than the {si(most)} that Mach 1 passes: choked, so that this cannot be"
        if is_choked
        else f"which is reached at M = {mach:.4f}"
    )
    yield Working(
        "mach",
        "Mach number",
        f"the M below 1 at which {FLUX}",
        f"{si(density)} kg/m³ × {si(flow)} m³/s ÷ {si(area)} m² = {si(density * flow / area)} "
        f"kg/(s·m²), {came_to}; p₀ {si(pressure)} Pa, T₀ {temperature:.2f} K, γ 1.4, dry air",
        "choked" if is_choked else f"{mach:.3f}",
        "isentropic flow of an ideal gas: NASA Glenn Research Center, 'Mass flow choking'",
    )
