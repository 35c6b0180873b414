"""Moist air: its density by CIPM-2007, and the speed of sound in it."""

from __future__ import annotations

import numpy as np

from shopflow.calc.array_types import Array

GAMMA = 1.4
"""Ratio of specific heats of air, taken as constant over the range of a flow bench."""

GAS_CONSTANT_DRY_AIR = 287.05
"""J/(kg K)."""

CO2_FRACTION = 400e-6
"""Mole fraction of carbon dioxide taken for room air."""

PRESSURE_RANGE = (60_000.0, 110_000.0)
TEMPERATURE_RANGE = (288.15, 300.15)
"""Pa and K: where CIPM-2007 is recommended (Picard et al. 2008)."""

_R = 8.314472
_MOLAR_MASS_DRY = 28.96546e-3 + 12.011e-3 * (CO2_FRACTION - 0.0004)
_MOLAR_MASS_RATIO = 0.3780


def density(pressure: Array, temperature: Array, humidity: Array = 0.0) -> Array:
    r"""Density of moist air, by the CIPM-2007 equation.

    .. math:: \rho = \frac{p M_a}{Z R T} (1 - 0.3780\, x_v)

    Parameters
    ----------
    pressure : absolute pressure p, Pa
    temperature : T, K
    humidity : relative humidity, 0 to 1

    Returns
    -------
    density, kg/m3

    Notes
    -----
    Recommended for 600 to 1100 hPa and 15 to 27 degrees Celsius; outside it is an extrapolation.
    The mole fraction of carbon dioxide is taken as 400 µmol/mol.
    Source: Picard, Davis, Gläser, Fujii, "Revised formula for the density of moist air
    (CIPM-2007)", Metrologia 45 (2008) 149.

    Examples
    --------
    CoolProp's real-gas humid air has 1.19936 kg/m3 at 20 °C, 101325 Pa and 50 %, within the
    4 parts in 100 000 that both claim:

    >>> round(float(density(101325.0, 293.15, 0.5)), 4)
    1.1993
    """
    celsius = temperature - 273.15
    vapour = _vapour_fraction(pressure, temperature, celsius, humidity)
    z = _compressibility(pressure / temperature, celsius, vapour)
    return pressure * _MOLAR_MASS_DRY / (z * _R * temperature) * (1.0 - _MOLAR_MASS_RATIO * vapour)


def _compressibility(ratio: Array, celsius: Array, vapour: Array) -> Array:
    """Compressibility factor Z; `ratio` is p/T (appendix A of the same paper)."""
    linear = (
        1.58123e-6
        - 2.9331e-8 * celsius
        + 1.1043e-10 * celsius**2
        + (5.707e-6 - 2.051e-8 * celsius) * vapour
        + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
    )
    return 1.0 - ratio * linear + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)


def _vapour_fraction(pressure: Array, temperature: Array, celsius: Array, humidity: Array) -> Array:
    """Mole fraction of water vapour, from relative humidity (appendix A of the same paper)."""
    saturation = np.exp(
        1.2378847e-5 * temperature**2
        - 1.9121316e-2 * temperature
        + 33.93711047
        - 6.3431645e3 / temperature
    )
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    return humidity * enhancement * saturation / pressure


def speed_of_sound(temperature: Array) -> Array:
    r"""Speed of sound in dry air as an ideal gas.

    .. math:: a = \sqrt{\gamma R T}

    Parameters
    ----------
    temperature : T, K

    Returns
    -------
    m/s

    Notes
    -----
    Humid air is faster, by 0.3 % at 20 °C and 100 %. Source: ISO 2533:1975, Standard atmosphere.

    Examples
    --------
    ISO 2533 gives 340.294 m/s at 288.15 K:

    >>> round(float(speed_of_sound(288.15)), 2)
    340.29
    """
    return np.sqrt(GAMMA * GAS_CONSTANT_DRY_AIR * temperature)
