"""The studentized range: how far the extremes of several like things lie apart by chance."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import erfc, exp, lgamma, log, sqrt

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.student import LEVEL, MANY

_POINTS = 64
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(_POINTS)
_REACH = 8.0
"""Standard deviations beyond which a normal value counts as never."""

_CLOSE = 1e-10
"""Of the factor, what is left to find."""


def _normal_below(z: Floats) -> Floats:
    """The normal distribution function: half of erfc(-z / sqrt(2))."""
    flat = (z / -sqrt(2.0)).ravel().tolist()
    return np.fromiter(map(erfc, flat), float, z.size).reshape(z.shape) / 2.0


_Z = _REACH * _NODES[:, np.newaxis]
_BELOW_Z = _normal_below(_Z)
_DENSITY = np.exp(-(_Z**2) / 2.0) / sqrt(2.0 * np.pi) * _REACH * _WEIGHTS[:, np.newaxis]
"""Of the normal distribution at each node, times the node's weight."""


def range_chance(q: float, count: int, freedom: float) -> float:
    r"""Chance that the range of `count` like things is at least q standard uncertainties.

    .. math:: p = 1 - \int_0^\infty f_\nu(s)\, W_k(q s)\, ds,\quad
        W_k(w) = k \int \varphi(z) [\Phi(z) - \Phi(z - w)]^{k-1} dz

    Parameters
    ----------
    q : highest less lowest, over the standard uncertainty of one
    count : k, two or more
    freedom : degrees of freedom ν of that uncertainty

    Notes
    -----
    f is the density of the root of a chi-squared over its degrees of freedom. Source: Tukey (1953);
    tables in Harter, Ann. Math. Statist. 31 (1960) 1122.

    Examples
    --------
    The table has 3.877 for three and ten degrees at 5 %:

    >>> round(range_chance(3.877, 3, 10), 3)
    0.05
    """
    if freedom >= MANY:
        return float(1.0 - _range_below(np.array([q]), count)[0])
    low, high = _bounds(freedom)
    spread = (high - low) / 2.0
    s = low + spread * (_NODES + 1.0)
    half = freedom / 2.0
    scale = half * log(freedom) - lgamma(half) - (half - 1.0) * log(2.0)
    density = np.exp(scale + (freedom - 1.0) * np.log(s) - half * s**2)
    return float(1.0 - spread * np.sum(_WEIGHTS * density * _range_below(q * s, count)))


@lru_cache(maxsize=1024)
def range_factor_95(count: int, freedom: float) -> float:
    """The q that chance alone exceeds once in twenty.

    Examples
    --------
    >>> round(range_factor_95(4, 20), 3), round(range_factor_95(8, float("inf")), 3)
    (3.958, 4.286)
    """
    high = 3.0
    while range_chance(high, count, freedom) > LEVEL:
        high *= 1.5

    def excess(x: float) -> float:
        """Zero at the logarithm of the q sought; nearly straight there."""
        return log(range_chance(exp(x), count, freedom) / LEVEL)

    return exp(_root(excess, 0.0, log(high)))


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of a falling function, between a point above it and one not above it.

    Regula falsi, of which the end that stays twice counts half (the Illinois algorithm; Dowell and
    Jarratt, BIT 11 (1971) 168).
    """
    above, below = function(low), function(high)
    stayed = 0
    while high - low > _CLOSE:
        middle = (low * below - high * above) / (below - above)
        value = function(middle)
        if abs(value) < _CLOSE:
            return middle
        if value > 0.0:
            low, above, below = middle, value, below / 2.0 if stayed > 0 else below
            stayed = 1
        else:
            high, below, above = middle, value, above / 2.0 if stayed < 0 else above
            stayed = -1
    return (low + high) / 2.0


def _bounds(freedom: float) -> tuple[float, float]:
    """Bounds of the root of a chi-squared over its degrees of freedom."""
    width = _REACH / sqrt(2.0 * freedom)
    return max(1e-12, 1.0 - width), 1.0 + width


def _range_below(w: Floats, count: int) -> Floats:
    """Chance that the range of so many normal values is below each w."""
    inside = _BELOW_Z - _normal_below(_Z - w)
    return np.asarray(count * np.sum(_DENSITY * inside ** (count - 1), axis=0))
