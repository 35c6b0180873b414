"""Straight lines and low polynomials through points of stated uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from shopflow.calc.array_types import Array, Floats
from shopflow.calc.chi_squared import chance_above
from shopflow.calc.student import LEVEL
from shopflow.texts import gettext


@dataclass(frozen=True)
class PolynomialFit:
    """A polynomial through points, with what its coefficients may be off by."""

    scaled: Floats
    """Coefficients of the powers of x over `scale`, from the constant up."""

    root: Floats
    """Square root of their covariance: each column one independent standard error of them all."""

    scale: float
    chi_squared: float
    """Sum of the squares of the residuals, each over its point's standard uncertainty."""

    freedom: int
    """Points less coefficients."""

    @property
    def coefficients(self) -> Floats:
        """Of the powers of x, from the constant up."""
        return self.scaled / self._powers

    @property
    def covariance(self) -> Floats:
        """Of those coefficients, as the points' uncertainties alone make it."""
        root = self.root / self._powers[:, np.newaxis]
        return root @ root.T

    @property
    def chance(self) -> float:
        """That points on the polynomial would lie as far off; 1 where nothing can be checked."""
        return chance_above(self.chi_squared, self.freedom) if self.freedom else 1.0

    @property
    def fits(self) -> bool:
        """True where the points lie as near as their uncertainties say, by chi-squared at 95 %."""
        return self.chance >= LEVEL

    @property
    def enlargement(self) -> float:
        """Factor on the uncertainty where the points lie farther off than they say."""
        return 1.0 if self.fits else sqrt(self.chi_squared / self.freedom)

    def at(self, x: Array) -> Floats:
        """The polynomial at places."""
        return np.asarray(self._design(x) @ self.scaled)

    def slope(self, x: Array) -> Floats:
        """Its slope there."""
        powers = np.arange(1, len(self.scaled))
        reduced = np.asarray(x, dtype=float)[..., np.newaxis] / self.scale
        return np.asarray(reduced ** (powers - 1) @ (powers * self.scaled[1:]) / self.scale)

    def errors(self, x: Array) -> Floats:
        """Effect of each independent standard error on it there: a row an error."""
        return np.moveaxis(self._design(x) @ self.root, -1, 0) * self.enlargement

    def standard(self, x: Array) -> Floats:
        """Its standard uncertainty there."""
        return np.asarray(np.linalg.norm(self.errors(x), axis=0))

    @property
    def _powers(self) -> Floats:
        return np.asarray(self.scale ** np.arange(len(self.scaled), dtype=float))

    def _design(self, x: Array) -> Floats:
        reduced = np.asarray(x, dtype=float)[..., np.newaxis] / self.scale
        return np.asarray(reduced ** np.arange(len(self.scaled)))


def fit_polynomial(x: Array, y: Array, standard: Array, degree: int) -> PolynomialFit:
    r"""The polynomial of a degree that fits points best, each by its weight.

    .. math:: \min \sum \left(\frac{y_i - \sum_k a_k x_i^k}{u_i}\right)^2,\quad
       V = (X^T W X)^{-1},\quad W = diag(1/u_i^2)

    Parameters
    ----------
    x : places, taken as exact
    y : values there
    standard : standard uncertainty u of each value, above 0; errors independent
    degree : 1 for a straight line

    Returns
    -------
    PolynomialFit

    Raises
    ------
    ValueError where the places are too few or too much alike for that degree

    Notes
    -----
    By QR of the weighted matrix, x scaled to at most 1, so that the normal equations are never
    formed. Where chi-squared is beyond its 95 % quantile the polynomial does not describe the
    points; uncertainties taken from it are then enlarged by the root of chi-squared over its
    degrees of freedom (R. T. Birge, Phys. Rev. 40 (1932) 207).
    Source: ISO/TS 28037:2010, clause 6 (straight line); ISO/TS 28038:2018 (polynomials).

    Examples
    --------
    ISO/TS 28037:2010, clause 6, equal weights: intercept 1.867 (0.465), slope 1.757 (0.120),
    covariance -0.050, chi-squared 1.665 with 4 degrees of freedom.

    >>> fit = fit_polynomial([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5] * 6, 1)
    >>> [round(float(number), 3) for number in (*fit.coefficients, *fit.covariance.diagonal()**0.5)]
    [1.867, 1.757, 0.465, 0.12]
    >>> round(float(fit.covariance[0, 1]), 3), round(fit.chi_squared, 3), fit.freedom, fit.fits
    (-0.05, 1.665, 4, True)
    """
    x, y, weights = np.asarray(x, float), np.asarray(y, float), 1.0 / np.asarray(standard, float)
    if len(np.unique(x)) <= degree:
        raise ValueError(gettext("{degree} different places or more are needed", degree=degree + 1))
    scale = float(np.abs(x).max())
    design = (x[:, np.newaxis] / scale) ** np.arange(degree + 1) * weights[:, np.newaxis]
    unit, triangle = np.linalg.qr(design)
    root = np.linalg.inv(triangle)
    scaled = root @ (unit.T @ (y * weights))
    residuals = y * weights - design @ scaled
    return PolynomialFit(scaled, root, scale, float(residuals @ residuals), len(x) - degree - 1)
