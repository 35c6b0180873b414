"""One-dimensional isentropic flow of an ideal gas through a restriction."""

from __future__ import annotations

import numpy as np

from shopflow.calc.air import GAMMA
from shopflow.calc.kinds import Array


def critical_ratio(gamma: float = GAMMA) -> float:
    r"""Pressure ratio at which the flow chokes, (2/(γ+1))^(γ/(γ−1)).

    Source: Heywood, Internal Combustion Engine Fundamentals (1988), appendix C.

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
    upstream_density : stagnation density, kg/m3
    downstream_pressure : static pressure p1 in the throat, Pa
    gamma : ratio of specific heats

    Returns
    -------
    kg/(s m2)

    Notes
    -----
    Source: Heywood (1988), appendix C, equations C.8 and C.9 (numbers from memory).

    Examples
    --------
    1000 mm2 drawing room air (20 °C, dry, R 287.05) at 28 inH2O passes 0.12473 kg/s:

    >>> rho = 101325 / (287.05 * 293.15)
    >>> round(float(1e-3 * ideal_mass_flux(101325.0, rho, 101325.0 - 6974.489)), 5)
    0.12473
    """
    ratio = np.maximum(downstream_pressure / upstream_pressure, critical_ratio(gamma))
    return np.sqrt(
        2.0
        * gamma
        / (gamma - 1.0)
        * upstream_pressure
        * upstream_density
        * (ratio ** (2.0 / gamma) - ratio ** ((gamma + 1.0) / gamma))
    )


def mach_number(pressure_ratio: Array, gamma: float = GAMMA) -> Array:
    """Mach number where static over stagnation pressure is `pressure_ratio`, at most 1.

    Source: NASA Glenn Research Center, "Isentropic flow equations".

    >>> round(float(mach_number(0.528282)), 4)
    1.0
    """
    ratio = np.maximum(pressure_ratio, critical_ratio(gamma))
    return np.sqrt(2.0 / (gamma - 1.0) * (ratio ** (-(gamma - 1.0) / gamma) - 1.0))


def bernoulli_velocity(pressure_difference: Array, density: Array) -> Array:
    """Velocity an incompressible fluid reaches across a pressure difference, sqrt(2 Δp/ρ).

    Source: ACGIH, Industrial Ventilation (the same as 4005 sqrt(VP) in fpm and inH2O).

    28 inH2O at 0.075 lb/ft3 (1.201385 kg/m3):

    >>> round(float(bernoulli_velocity(6974.489, 1.201385)), 3)
    107.753
    """
    return np.sqrt(2.0 * pressure_difference / density)
