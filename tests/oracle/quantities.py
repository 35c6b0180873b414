"""Quantities, moist air and the ideal flux, worked out one number at a time."""

from __future__ import annotations

import math

FACTORS = {
    "mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254,
    "mm2": 1e-6, "cm2": 1e-4, "in2": 0.0254 * 0.0254,
    "L/s": 0.001, "m3/h": 1 / 3600, "m3/s": 1.0, "cfm": 0.3048**3 / 60,
    "Pa": 1.0, "kPa": 1000.0, "mbar": 100.0, "hPa": 100.0, "inH2O": 249.08891, "mmH2O": 9.80665,
    "inHg": 3386.389, "psi": 0.45359237 * 9.80665 / 0.0254**2,
    "deg": math.pi / 180, "%": 0.01,
}  # fmt: skip


def quantity(text: str) -> float:
    """SI value of "28 inH2O"."""
    number, unit = text.split()
    value = float(number)
    if unit == "K":
        return value
    if unit == "degC":
        return value + 273.15
    if unit == "degF":
        return (value + 459.67) / 1.8
    return value * FACTORS[unit]


def moist_air_density(p: float, t: float, h: float) -> float:
    """CIPM-2007, in the arrangement of Picard et al. (2008), equation 1, with xCO2 0.0004."""
    celsius = t - 273.15
    psv = math.exp(1.2378847e-5 * t * t - 1.9121316e-2 * t + 33.93711047 - 6343.1645 / t)
    f = 1.00062 + 3.14e-8 * p + 5.6e-7 * celsius * celsius
    xv = h * f * psv / p
    a = 1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius * celsius
    b = (5.707e-6 - 2.051e-8 * celsius) * xv
    c = (1.9898e-4 - 2.376e-6 * celsius) * xv * xv
    z = 1 - p / t * (a + b + c) + (p / t) ** 2 * (1.83e-11 - 0.765e-8 * xv * xv)
    return p * 28.96546e-3 / (z * 8.314472 * t) * (1 - 0.3780 * xv)


def flux(p0: float, rho0: float, p1: float) -> float:
    """Ideal mass flow per area, with gamma 1.4."""
    r = max(p1 / p0, (2 / 2.4) ** 3.5)
    return math.sqrt(7 * p0 * rho0 * (r ** (2 / 1.4) - r ** (2.4 / 1.4)))
