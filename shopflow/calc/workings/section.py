"""Workings of a section along a port."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.calc.port_form import Shape, form_of
from shopflow.calc.sections import critical_flux, flow_along
from shopflow.calc.workings.working import Working, si
from shopflow.texts import gettext
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
        gettext("Area over that of the tightest section"),
        gettext("area of this section ÷ least area of the survey"),
        gettext(
            "{area} ÷ {tightest} m² = {tightest_2:.4f}; areas as measured",
            area=si(area),
            tightest=si(tightest),
            tightest_2=area / tightest,
        ),
        f"{100.0 * area / tightest:.0f} %",
        gettext("definition"),
    )
    if passed is not None:
        yield from _of_flow(area, passed, units)
    if throat is not None:
        yield Working(
            "throat",
            gettext("Area over that of the throat"),
            gettext("area of this section ÷ (π ÷ 4 × (throat² − stem²) × number of valves)"),
            f"{si(area)} ÷ {si(throat)} m² = {area / throat:.4f}",
            f"{100.0 * area / throat:.0f} %",
            gettext("definition"),
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
        gettext("Mean velocity"),
        gettext("v = Q ÷ area"),
        gettext(
            "{flow} m³/s ÷ {area} m² = {speed} m/s, at room-air density",
            flow=si(flow),
            area=si(area),
            speed=si(speed),
        ),
        units.text(speed, "velocity"),
        gettext("definition; incompressible, a mean over the section"),
    )
    most = float(critical_flux(pressure, temperature))
    numbers = {
        "density": si(density),
        "flow": si(flow),
        "area": si(area),
        "flux": si(density * flow / area),
        "pressure": si(pressure),
        "temperature": f"{temperature:.2f}",
    }
    text = (
        gettext(
            "{density} kg/m³ × {flow} m³/s ÷ {area} m² = {flux} kg/(s·m²), more than the {most} "
            "that Mach 1 passes: choked, so that this cannot be; p₀ {pressure} Pa, T₀ "
            "{temperature} K, γ 1.4, dry air",
            **numbers,
            most=si(most),
        )
        if is_choked
        else gettext(
            "{density} kg/m³ × {flow} m³/s ÷ {area} m² = {flux} kg/(s·m²), which is reached at "
            "M = {mach:.4f}; p₀ {pressure} Pa, T₀ {temperature} K, γ 1.4, dry air",
            **numbers,
            mach=mach,
        )
    )
    yield Working(
        "mach",
        gettext("Mach number"),
        gettext("the M below 1 at which {flux}", flux=FLUX),
        text,
        gettext("choked") if is_choked else f"{mach:.3f}",
        gettext("isentropic flow of an ideal gas: NASA Glenn Research Center, 'Mass flow choking'"),
    )


def of_shape(area: float, shape: Shape, units: UnitSystem) -> Iterator[Working]:
    """The workings of a section's shape, of those results that it has.

    Parameters
    ----------
    area : of the section, m2
    shape : lengths in m
    """
    form = form_of(area, shape)
    width, height, perimeter, radius = map(
        _length, (shape.width, shape.height, shape.perimeter, shape.short_side_radius)
    )
    if form.hydraulic_diameter is not None:
        yield Working(
            "hydraulic",
            gettext("Hydraulic diameter"),
            gettext("4 × area ÷ perimeter"),
            f"4 × {si(area)} ÷ {perimeter} m = {si(form.hydraulic_diameter)} m",
            units.text(form.hydraulic_diameter, "lift"),
            gettext("definition: Idelchik, Handbook of Hydraulic Resistance, section 1"),
        )
    if form.roundness is not None:
        yield Working(
            "roundness",
            gettext("Roundness"),
            gettext("4π × area ÷ perimeter²; 1 for a circle, less for every other outline"),
            f"4π × {si(area)} ÷ {perimeter}² = {form.roundness:.4f}",
            f"{form.roundness:.2f}",
            gettext("isoperimetric quotient: Osserman (1978)"),
        )
    if form.aspect_ratio is not None:
        yield Working(
            "aspect",
            gettext("Width over height"),
            gettext("width ÷ height"),
            f"{width} ÷ {height} m = {form.aspect_ratio:.4f}",
            f"{form.aspect_ratio:.2f}",
            gettext("definition"),
        )
    if form.bend_sharpness is not None:
        yield Working(
            "sharpness",
            gettext("Short-side radius over height"),
            gettext("short-side radius ÷ height; the lower, the sharper the bend"),
            f"{radius} ÷ {height} m = {form.bend_sharpness:.4f}",
            f"{form.bend_sharpness:.2f}",
            gettext("definition, of the radius ratio that losses of bends are tabled by"),
        )


def _length(value: float | None) -> str:
    return "" if value is None else si(value)
