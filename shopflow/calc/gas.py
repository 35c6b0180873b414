"""One-dimensional isentropic flow of an ideal gas through a restriction.

Source of the relations, where no other is named: Heywood, Internal Combustion Engine Fundamentals
(1988), appendix C; the same on NASA Glenn Research Center's pages on mass flow.
"""

from __future__ import annotations

import numpy as np

from shopflow.calc.air import GAMMA, GAS_CONSTANT_DRY_AIR
from shopflow.calc.array_types import Array


def critical_ratio(gamma: float = GAMMA) -> float:
    r"""Throat over upstream stagnation pressure at which the flow chokes.

    .. math:: r^* = \left(\frac{2}{\gamma+1}\right)^{\gamma/(\gamma-1)}

    Parameters
    ----------
    gamma : ratio of specific heats

    Returns
    -------
    dimensionless; a lower pressure downstream draws no more

    Notes
    -----
    Source: Heywood (1988), appendix C.

    Examples
    --------
    >>> round(critical_ratio(), 6)
    0.528282
    """
    return float((2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))


def ideal_mass_flux(
    upstream_pressure: Array,
    upstream_density: Array,
    downstream_pressure: Array,
    gamma: float = GAMMA,
) -> Array:
    r"""Mass flow per unit area of an ideal nozzle, choked where the ratio is low enough.

    .. math::
        \frac{\dot m}{A} = \sqrt{\frac{2\gamma}{\gamma-1} p_0 \rho_0
        \left(r^{2/\gamma} - r^{(\gamma+1)/\gamma}\right)},\quad r = \max(p_1/p_0, r^*)

    Parameters
    ----------
    upstream_pressure : stagnation pressure p0, Pa
    upstream_density : stagnation density ρ0, kg/m3
    downstream_pressure : static pressure p1 in the throat, Pa
    gamma : ratio of specific heats

    Returns
    -------
    kg/(s m2)

    Notes
    -----
    Steady, adiabatic, without friction, the gas ideal. Source: Heywood (1988), appendix C;
    NASA Glenn Research Center, "Mass flow choking".

    Examples
    --------
    1000 mm2 drawing room air (20 °C, dry, R 287.05) at 28 inH2O passes 0.12473 kg/s; CoolProp's
    real-gas isentrope has 0.12476:

    >>> rho = 101325 / (287.05 * 293.15)
    >>> round(float(1e-3 * ideal_mass_flux(101325.0, rho, 101325.0 - 6974.489)), 5)
    0.12473
    """
    ratio = np.maximum(downstream_pressure / upstream_pressure, critical_ratio(gamma))
    expansion = ratio ** (2.0 / gamma) - ratio ** ((gamma + 1.0) / gamma)
    factor = 2.0 * gamma / (gamma - 1.0)
    return np.sqrt(factor * upstream_pressure * upstream_density * expansion)


def mach_number(pressure_ratio: Array, gamma: float = GAMMA) -> Array:
    r"""Mach number where static over stagnation pressure is `pressure_ratio`, at most 1.

    .. math:: M = \sqrt{\frac{2}{\gamma-1}\left(r^{-(\gamma-1)/\gamma} - 1\right)}

    Parameters
    ----------
    pressure_ratio : r, static over stagnation pressure, above 0 and not above 1
    gamma : ratio of specific heats

    Returns
    -------
    dimensionless, of a converging passage: it chokes at 1

    Notes
    -----
    Source: NASA Glenn Research Center, "Isentropic flow equations".

    Examples
    --------
    >>> round(float(mach_number(0.528282)), 4)
    1.0
    """
    ratio = np.maximum(pressure_ratio, critical_ratio(gamma))
    return np.sqrt(2.0 / (gamma - 1.0) * (ratio ** (-(gamma - 1.0) / gamma) - 1.0))


def isentropic_velocity(
    upstream_temperature: Array, pressure_ratio: Array, gamma: float = GAMMA
) -> Array:
    r"""Velocity in the throat of an ideal nozzle drawing dry air.

    .. math:: V = M \sqrt{\gamma R T},\quad T = T_0 \left(1 + \frac{\gamma-1}{2} M^2\right)^{-1}

    Parameters
    ----------
    upstream_temperature : stagnation temperature T0, K
    pressure_ratio : static pressure in the throat over upstream stagnation pressure
    gamma : ratio of specific heats

    Returns
    -------
    m/s

    Notes
    -----
    Source: NASA Glenn Research Center, "Isentropic flow equations".

    Examples
    --------
    Room air at 20 °C drawn at 28 inH2O (pressure ratio 0.931167), by hand 109.0 m/s:

    >>> round(float(isentropic_velocity(293.15, 0.931167)), 1)
    109.0
    """
    mach = mach_number(pressure_ratio, gamma)
    static = upstream_temperature / (1.0 + (gamma - 1.0) / 2.0 * mach**2)
    return mach * np.sqrt(gamma * GAS_CONSTANT_DRY_AIR * static)


def expansion_velocity(
    upstream_pressure: Array,
    upstream_density: Array,
    downstream_pressure: Array,
    gamma: float = GAMMA,
) -> Array:
    r"""Velocity in the throat of an ideal nozzle, from pressures and density.

    .. math:: V_0 = \sqrt{\frac{2\gamma}{\gamma-1} \frac{p_0}{\rho_0}
        \left(1 - r^{(\gamma-1)/\gamma}\right)},\quad r = \max(p_1/p_0, r^*)

    Parameters
    ----------
    upstream_pressure : stagnation pressure p0, Pa
    upstream_density : stagnation density ρ0, kg/m3
    downstream_pressure : static pressure p1 in the throat, Pa
    gamma : ratio of specific heats

    Returns
    -------
    m/s

    Notes
    -----
    Source: Heywood (1988), appendix C.

    Examples
    --------
    Room air (20 °C, dry, R 287.05) drawn at 28 inH2O: 109.0 m/s, as `isentropic_velocity`.

    >>> rho = 101325 / (287.05 * 293.15)
    >>> round(float(expansion_velocity(101325.0, rho, 101325.0 - 6974.489)), 1)
    109.0
    """
    temperature = upstream_pressure / (upstream_density * GAS_CONSTANT_DRY_AIR)
    return isentropic_velocity(temperature, downstream_pressure / upstream_pressure, gamma)


def bernoulli_velocity(pressure_difference: Array, density: Array) -> Array:
    r"""Velocity an incompressible fluid reaches across a pressure difference.

    .. math:: V = \sqrt{2 \Delta p / \rho}

    Parameters
    ----------
    pressure_difference : Δp, Pa
    density : ρ, kg/m3

    Returns
    -------
    m/s

    Notes
    -----
    Source: ACGIH, Industrial Ventilation (there 4005 sqrt(VP), in ft/min and inH2O, for air of
    0.075 lb/ft3).

    Examples
    --------
    28 inH2O at 0.075 lb/ft3 (1.201385 kg/m3):

    >>> round(float(bernoulli_velocity(6974.489, 1.201385)), 3)
    107.753
    """
    return np.sqrt(2.0 * pressure_difference / density)
