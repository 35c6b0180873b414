"""Cross-sections along a port: how fast the gas is at each, how near choking, what they enclose.

One-dimensional isentropic flow of dry air from a stagnation state: no losses on the way, the speed
the same all over a section. Air along the short side of a bend may go twice as fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.air import GAMMA, GAS_CONSTANT_DRY_AIR
from shopflow.calc.areas import Valve, curtain_area, least_valve_area, port_area_at_stem
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.flow import mean_velocity

HALVINGS = 60
"""Of the interval 0 to 1: more than a double holds."""


@dataclass(frozen=True, slots=True)
class ValveAreas:
    """Areas that the valves of one port leave open at a lift, all of them together, m2."""

    curtain: float
    least: float | None
    """None where the seat is not known, as is `throat`."""

    throat: float | None
    """Less the stem."""


@dataclass(frozen=True)
class PortFlow:
    """A flow through every section of a port, as arrays over the sections."""

    velocity: Floats
    """Volume flow over area, m/s."""

    mach: Floats
    """NaN where the section is choked."""

    choked: NDArray[np.bool_]


def mass_flux(mach: Array, pressure: Array, temperature: Array, gamma: float = GAMMA) -> Array:
    r"""Mass flow per unit area of air at a Mach number.

    .. math::
        \frac{\dot m}{A} = p_0 \sqrt{\frac{\gamma}{R T_0}}\, M
        \left(1 + \frac{\gamma-1}{2} M^2\right)^{-\frac{\gamma+1}{2(\gamma-1)}}

    Parameters
    ----------
    mach : M
    pressure : stagnation p0, Pa
    temperature : stagnation T0, K
    gamma : ratio of specific heats

    Returns
    -------
    kg/(s m2)

    Notes
    -----
    Source: NASA Glenn Research Center, "Mass flow choking".

    Examples
    --------
    Room air at 20 °C and Mach 0.32082, which 28 inH2O draw through an ideal nozzle: 124.73, as
    `gas.ideal_mass_flux` has it from the pressures.

    >>> round(float(mass_flux(0.32082, 101325.0, 293.15)), 2)
    124.73
    """
    power = -(gamma + 1.0) / (2.0 * (gamma - 1.0))
    shape = mach * (1.0 + (gamma - 1.0) / 2.0 * mach**2) ** power
    return pressure * np.sqrt(gamma / (GAS_CONSTANT_DRY_AIR * temperature)) * shape


def critical_flux(pressure: Array, temperature: Array, gamma: float = GAMMA) -> Array:
    """Mass flow per unit area at Mach 1: no section passes more.

    Parameters
    ----------
    pressure : stagnation p0, Pa
    temperature : stagnation T0, K
    gamma : ratio of specific heats

    Returns
    -------
    kg/(s m2)

    Notes
    -----
    Source: NASA Glenn Research Center, "Mass flow choking"; Heywood (1988), appendix C.

    Examples
    --------
    1000 mm2 of room air at 20 °C choke at 0.23917 kg/s; CoolProp's real gas at 0.23931:

    >>> round(1e-3 * float(critical_flux(101325.0, 293.15)), 5)
    0.23917
    """
    return mass_flux(1.0, pressure, temperature, gamma)


def subsonic_mach(flux: Array, pressure: Array, temperature: Array, gamma: float = GAMMA) -> Array:
    """Mach number below 1 at which air carries a mass flow per unit area.

    Parameters
    ----------
    flux : mass flow over area, kg/(s m2), not negative
    pressure : stagnation p0, Pa
    temperature : stagnation T0, K
    gamma : ratio of specific heats

    Returns
    -------
    dimensionless; NaN where the flux is above the critical one: such a section is choked

    Notes
    -----
    The inverse of `mass_flux`, by halving: it rises steadily from 0 to 1.

    Examples
    --------
    >>> round(float(subsonic_mach(124.73, 101325.0, 293.15)), 4)
    0.3208
    """
    wanted = np.asarray(flux, dtype=float)
    low, high = np.zeros_like(wanted), np.ones_like(wanted)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        above = mass_flux(middle, pressure, temperature, gamma) > wanted
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.where(wanted <= critical_flux(pressure, temperature, gamma), low, np.nan)


def flow_along(
    areas: Sequence[float], flow: float, density: float, pressure: float, temperature: float
) -> PortFlow:
    """A flow at every section of a port.

    Parameters
    ----------
    areas : of the sections, m2
    flow : volume flow at room density, m3/s
    density : of the room air, kg/m3
    pressure : upstream stagnation p0, Pa
    temperature : upstream stagnation T0, K

    Returns
    -------
    PortFlow: the velocity is at room density, as everywhere on the bench; the Mach number allows
    for the air thinning as it speeds up

    Examples
    --------
    200 cfm of dry room air through 1200 and 400 mm2; the second would need more than Mach 1:

    >>> found = flow_along([12e-4, 4e-4], 0.0943895, 1.204118, 101325.0, 293.15)
    >>> found.velocity.round(2).tolist(), found.mach.round(3).tolist(), found.choked.tolist()
    ([78.66, 235.97], [0.237, nan], [False, True])
    """
    sections = np.asarray(areas, dtype=float)
    mach = subsonic_mach(density * flow / sections, pressure, temperature)
    return PortFlow(mean_velocity(flow, sections), mach, np.isnan(mach))


def valve_areas(valve: Valve, lift: float) -> ValveAreas:
    """Curtain, least geometric area and throat of the valves of a port, all open at one lift.

    Parameters
    ----------
    valve : lengths in m
    lift : m

    Returns
    -------
    ValveAreas, m2

    Examples
    --------
    Two valves of 44 mm without a known seat, at 5 mm:

    >>> round(valve_areas(Valve(0.044, count=2), 0.005).curtain * 1e6, 2)
    1382.3
    """
    curtain = float(curtain_area(valve.head_diameter, lift)) * valve.count
    seat = valve.seat
    if seat is None:
        return ValveAreas(curtain, None, None)
    least = float(least_valve_area(valve.head_diameter, seat, lift)) * valve.count
    throat = float(port_area_at_stem(seat.throat_diameter, seat.stem_diameter)) * valve.count
    return ValveAreas(curtain, least, throat)


def port_volume(distances: Sequence[float], areas: Sequence[float]) -> float:
    r"""Volume between the first and the last section, as frusta.

    .. math:: V = \sum \frac{h}{3} \left(A_1 + A_2 + \sqrt{A_1 A_2}\right)

    Parameters
    ----------
    distances : along the middle of the port, strictly increasing, m
    areas : m2

    Returns
    -------
    m3; nothing where there is one section

    Notes
    -----
    Exact where each stretch is a cone or pyramid of sections alike in shape (Euclid, Elements
    XII). A stretch that bulges between two sections is missed: take them closer there.

    Examples
    --------
    A cone frustum of radii 2 and 1 and height 3 has 7 pi:

    >>> round(port_volume([0.0, 3.0], [4.0 * np.pi, np.pi]) / np.pi, 9)
    7.0
    """
    before, after = np.asarray(areas[:-1]), np.asarray(areas[1:])
    return float((np.diff(distances) / 3.0 * (before + after + np.sqrt(before * after))).sum())


def mean_area(distances: Sequence[float], areas: Sequence[float]) -> float:
    """Mean area between the first and the last section: the volume over the length.

    Parameters
    ----------
    distances : strictly increasing, m
    areas : m2

    Returns
    -------
    m2; of one section its own

    Examples
    --------
    >>> round(mean_area([0.0, 3.0], [4.0, 1.0]), 9)
    2.333333333
    """
    if len(distances) == 1:
        return areas[0]
    return port_volume(distances, areas) / (distances[-1] - distances[0])
