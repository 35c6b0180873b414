"""How the figures of a section along a port came about."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc.sections import critical_flux
from shopflow.documents import PortSurvey, SectionPoint
from shopflow.models import BenchSession
from shopflow.services.analysis.workings.working import Working, si
from shopflow.services.bench import sessions
from shopflow.services.bench.sections import upstream_pressure
from shopflow.units import UnitSystem

FLUX = "ṁ ÷ A = p₀ √(γ ÷ (R T₀)) M (1 + (γ − 1) M² ÷ 2)^(−(γ + 1) ÷ (2 (γ − 1)))"


def of_section(
    survey: PortSurvey, number: int, row: BenchSession | None, place: int, units: UnitSystem
) -> list[Working]:
    """The figures at one section, with the flow of a session at the lift in this place."""
    point = survey.points[number]
    found = [_narrowing(survey, point)]
    if row is not None and point.velocity is not None:
        found += _flow(point, row, place, units)
    if point.over_throat is not None:
        found.append(_over_throat(point))
    return found


def _narrowing(survey: PortSurvey, point: SectionPoint) -> Working:
    tightest = min(other.area for other in survey.points)
    return Working(
        "tightest",
        "Area over that of the tightest section",
        "area of this section ÷ least area of the survey",
        f"{si(point.area)} ÷ {si(tightest)} m² = {point.over_tightest:.4f}; areas as measured",
        f"{100.0 * point.over_tightest:.0f} %",
        "definition",
    )


def _flow(
    point: SectionPoint, row: BenchSession, place: int, units: UnitSystem
) -> Iterator[Working]:
    found = sessions.reduction(row)
    flow, density = float(found.flow[place]), found.air_density
    speed = flow / point.area
    yield Working(
        "velocity",
        "Mean velocity",
        "v = Q ÷ area",
        f"{si(flow)} m³/s ÷ {si(point.area)} m² = {si(speed)} m/s, at room-air density",
        units.text(speed, "velocity"),
        "definition; incompressible, a mean over the section",
    )
    pressure, temperature = upstream_pressure(found), found.test.temperature
    flux = density * flow / point.area
    most = float(critical_flux(pressure, temperature))
    came_to = (
        f"more than the {si(most)} that Mach 1 passes: choked, so that this cannot be"
        if point.mach is None
        else f"which is reached at M = {point.mach:.4f}"
    )
    yield Working(
        "mach",
        "Mach number",
        f"the M below 1 at which {FLUX}",
        f"{si(density)} kg/m³ × {si(flow)} m³/s ÷ {si(point.area)} m² = {si(flux)} kg/(s·m²), "
        f"{came_to}; p₀ {si(pressure)} Pa, T₀ {temperature:.2f} K, γ 1.4, dry air",
        "choked" if point.mach is None else f"{point.mach:.3f}",
        "isentropic flow of an ideal gas: NASA Glenn Research Center, 'Mass flow choking'",
    )


def _over_throat(point: SectionPoint) -> Working:
    throat = point.area / (point.over_throat or 1.0)
    return Working(
        "throat",
        "Area over that of the throat",
        "area of this section ÷ (π ÷ 4 × (throat² − stem²) × number of valves)",
        f"{si(point.area)} ÷ {si(throat)} m² = {point.over_throat:.4f}",
        f"{100.0 * (point.over_throat or 0.0):.0f} %",
        "definition",
    )
