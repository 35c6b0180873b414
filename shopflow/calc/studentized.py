"""The studentized range: how far the extremes of several like things lie apart by chance."""

from __future__ import annotations

from functools import lru_cache
from math import erfc, lgamma, log, sqrt

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.student import LEVEL, MANY

_POINTS = 64
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(_POINTS)
_REACH = 8.0
"""Standard deviations beyond which a normal value counts as never."""

_below = np.vectorize(lambda z: 0.5 * erfc(-z / sqrt(2.0)), otypes=[float])
"""Normal distribution function."""


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
    low, high = 0.0, 200.0
    while high - low > 1e-9 * high:
        middle = (low + high) / 2.0
        low, high = (
            (middle, high) if range_chance(middle, count, freedom) > LEVEL else (low, middle)
        )
    return (low + high) / 2.0


def _bounds(freedom: float) -> tuple[float, float]:
    """Where the root of a chi-squared over its degrees of freedom may lie."""
    width = _REACH / sqrt(2.0 * freedom)
    return max(1e-12, 1.0 - width), 1.0 + width


def _range_below(w: Floats, count: int) -> Floats:
    """Chance that the range of so many normal values is below each w."""
    z = _REACH * _NODES[:, np.newaxis]
    inside = _below(z) - _below(z - w)
    density = np.exp(-(z**2) / 2.0) / sqrt(2.0 * np.pi)
    weights = _REACH * _WEIGHTS[:, np.newaxis]
    return np.asarray(count * np.sum(weights * density * inside ** (count - 1), axis=0))
