"""The standard atmosphere: what a barometer shows at an altitude on an average day."""

from __future__ import annotations

SEA_LEVEL_PRESSURE = 101325.0
SEA_LEVEL_TEMPERATURE = 288.15
LAPSE = 0.0065
"""K of cooling per m, up to 11 km."""

EXPONENT = 9.80665 / (LAPSE * 287.05287)
EARTH_RADIUS = 6_356_766.0
"""m, of ISO 2533, by which a height becomes a geopotential one."""


def standard_pressure(altitude: float) -> float:
    r"""Pressure of the standard atmosphere at an altitude.

    .. math:: p = p_0 \left(1 - \frac{\beta H}{T_0}\right)^{g/(\beta R)},\quad
        H = \frac{r h}{r + h}

    Parameters
    ----------
    altitude : h above sea level, below 11 km, m

    Returns
    -------
    Pa

    Notes
    -----
    Source: ISO 2533:1975, 2.

    Examples
    --------
    ISO 2533 has 89876.3 Pa at 1000 m:

    >>> round(standard_pressure(1000.0), 1)
    89876.3
    """
    geopotential = EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)
    cooled = 1.0 - LAPSE * geopotential / SEA_LEVEL_TEMPERATURE
    return float(SEA_LEVEL_PRESSURE * cooled**EXPONENT)
