"""A bench's leakage over the test pressure, from a few measured leaks."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.polynomial import PolynomialFit, fit_polynomial
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.texts import gettext

LAMINAR, TURBULENT = 1.0, 0.5
"""Exponents between which that of any leak lies (ISO 9972:2015)."""


@dataclass(frozen=True)
class LeakageCurve:
    """Leakage as a power of the pressure; between the points where no power fits them."""

    pressures: tuple[float, ...]
    """Pa, rising."""

    leakages: tuple[float, ...]
    """As indicated, m3/s."""

    fit: PolynomialFit
    """Logarithm of the leakage over that of the pressure."""

    relative: float
    """Standard relative uncertainty of each point."""

    @property
    def coefficient(self) -> float:
        """c of q = c Δp^n, m3/s at 1 Pa."""
        return exp(self.fit.coefficients[0])

    @property
    def exponent(self) -> float:
        """n of q = c Δp^n."""
        return float(self.fit.coefficients[1])

    @property
    def is_power(self) -> bool:
        """True where one power fits the points; else the curve goes from point to point."""
        return self.fit.fits

    @property
    def is_usual(self) -> bool:
        """True where the exponent is one a leak can have, as far as its uncertainty says."""
        margin = COVERAGE_FACTOR * float(np.sqrt(self.fit.covariance[1, 1]))
        return TURBULENT - margin <= self.exponent <= LAMINAR + margin

    def at(self, pressure: float) -> float:
        """Leakage at a pressure in Pa, m3/s."""
        if self.is_power:
            return exp(float(self.fit.at(log(pressure))))
        logs: Floats = np.log(self.pressures)
        return exp(float(np.interp(log(pressure), logs, np.log(self.leakages))))

    def standard(self, pressure: float) -> float:
        """Standard uncertainty of that, m3/s."""
        if self.is_power:
            return self.at(pressure) * float(self.fit.standard(log(pressure)))
        return self.at(pressure) * self.relative

    def covers(self, pressure: float) -> bool:
        """True where a pressure lies among those measured at."""
        # A millionth forgives conversion of units.
        return self.pressures[0] * (1 - 1e-6) <= pressure <= self.pressures[-1] * (1 + 1e-6)


def leakage_curve(
    pressures: tuple[float, ...], leakages: tuple[float, ...], relative: float
) -> LeakageCurve:
    r"""The leakage over the pressure, from points.

    .. math:: q = c\,\Delta p^n,\quad \ln q = \ln c + n \ln \Delta p

    Parameters
    ----------
    pressures : difference across the shut valve at each point, Pa, above 0 and rising
    leakages : flow shown at each, m3/s, above 0
    relative : expanded (k = 2) relative uncertainty of each leakage, above 0

    Raises
    ------
    ValueError where there are fewer than two points

    Notes
    -----
    A straight line through the logarithms, weighted by the uncertainties. Where the points lie
    farther from it than those allow, the curve goes straight from point to point in logarithms,
    and holds the end values beyond them.
    Source: the power law of leaks, ISO 9972:2015 and ASTM E779.

    Examples
    --------
    A leak that doubles from 1 to 3 kPa varies with the power 0.631:

    >>> curve = leakage_curve((1000.0, 3000.0), (0.0002, 0.0004), 0.05)
    >>> round(curve.exponent, 3), round(1e6 * curve.at(3000.0), 6)
    (0.631, 400.0)
    """
    if len(pressures) < 2:
        raise ValueError(gettext("2 points or more are needed"))
    standard = np.full(len(pressures), relative / COVERAGE_FACTOR)
    fit = fit_polynomial(np.log(pressures), np.log(leakages), standard, 1)
    return LeakageCurve(pressures, leakages, fit, relative / COVERAGE_FACTOR)
