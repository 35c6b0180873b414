"""Student's t: how far a result with few degrees of freedom may stray by chance."""

from __future__ import annotations

from functools import lru_cache
from math import erfc, exp, inf, lgamma, log, log1p, pi, sqrt

from shopflow.texts import gettext

MANY = 1e7
"""Degrees of freedom from which t is taken as normal."""

LEVEL = 0.05
"""Chance of a false verdict that is accepted."""

NORMAL_95 = 1.959963984540054
"""Factor for 95 % of the normal distribution."""

_TINY = 1e-300
_LIKE = 1e-15


def two_sided_p(t: float, freedom: float) -> float:
    r"""Chance that |t| is at least this by chance alone.

    .. math:: p = I_{\nu/(\nu+t^2)}(\nu/2, 1/2)

    Parameters
    ----------
    t : an estimate over its standard uncertainty
    freedom : degrees of freedom ν, above 0; infinite for the normal distribution

    Notes
    -----
    I is the regularised incomplete beta function. Source: Abramowitz and Stegun, Handbook of
    Mathematical Functions (1964), 26.7.1.

    Examples
    --------
    JCGM 100:2008, table G.2: 2.23 for 10 degrees at 95 %.

    >>> round(two_sided_p(2.23, 10), 3)
    0.05
    """
    t = abs(t)
    if freedom >= MANY:
        return erfc(t / sqrt(2.0))
    if t == inf:
        return 0.0
    squared = t * t
    return _beta_tail(0.5 * freedom, squared, freedom)


@lru_cache(maxsize=4096)
def factor_95(freedom: float) -> float:
    """Coverage factor for 95 %, two-sided.

    Examples
    --------
    JCGM 100:2008, table G.2: 12.71, 2.26 and 1.960.

    >>> [round(factor_95(freedom), 3) for freedom in (1, 9, float("inf"))]
    [12.706, 2.262, 1.96]
    """
    if not freedom >= 1.0 - 1e-9:
        raise ValueError(gettext("less than one degree of freedom says nothing"))
    if freedom >= MANY:
        return NORMAL_95
    # The tail is convex, so that from the normal's factor Newton's method climbs to the root.
    return _climb(_nearly_95(freedom) if freedom > 5.0 else NORMAL_95, LEVEL, freedom)


@lru_cache(maxsize=256)
def factor(chance: float, freedom: float) -> float:
    """The |t| that is exceeded with a chance, at degrees of freedom below `MANY`.

    Examples
    --------
    JCGM 100:2008, table G.2: 3.25 for 9 degrees at 99 %.

    >>> round(factor(0.01, 9), 2)
    3.25
    """
    return _climb(1.0, chance, freedom)


def _climb(t: float, chance: float, freedom: float) -> float:
    """The root of the tail less a chance, by Newton's method from below or near it."""
    for _ in range(200):
        step = (two_sided_p(t, freedom) - chance) / (2.0 * _density(t, freedom))
        t += step
        if abs(step) <= 1e-9 * t:
            # The next step would be of the order of the square of this one.
            break
    return t


def _nearly_95(freedom: float) -> float:
    """The factor by the expansion of Cornish and Fisher (Abramowitz and Stegun, 26.7.5)."""
    z = NORMAL_95
    terms = (
        (z**3 + z) / 4.0,
        (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0,
        (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0,
    )
    return z + sum(term / freedom**power for power, term in enumerate(terms, start=1))


def _density(t: float, freedom: float) -> float:
    """Probability density of t."""
    scale = _half_step(freedom / 2.0) - 0.5 * log(freedom * pi)
    return exp(scale - (freedom + 1.0) / 2.0 * log1p(t * t / freedom))


def _beta_tail(a: float, squared: float, freedom: float) -> float:
    """I_x(a, 1/2) at x = ν/(ν + t²), by the continued fraction that converges there."""
    x = freedom / (freedom + squared)
    if squared == 0.0:
        return 1.0
    # log(1 - x) without loss where t is small, and log(x) where it is large.
    log_x, log_rest = -log1p(squared / freedom), log(squared) - log(freedom + squared)
    scale = exp(_half_step(a) - 0.5 * log(pi) + a * log_x + 0.5 * log_rest)
    if x < (a + 1.0) / (a + 2.5):
        return scale * _continued_fraction(a, 0.5, x) / a
    return 1.0 - scale * _continued_fraction(0.5, a, squared / (freedom + squared)) / 0.5


def _half_step(a: float) -> float:
    """ln Γ(a + 1/2) - ln Γ(a), without the loss of digits where both are large."""
    if a < 50.0:
        return lgamma(a + 0.5) - lgamma(a)
    return 0.5 * log(a) - 1.0 / (8.0 * a) + 1.0 / (192.0 * a**3) - 1.0 / (640.0 * a**5)


def _continued_fraction(a: float, b: float, x: float) -> float:
    """The incomplete beta function's (Abramowitz and Stegun, 26.5.8), by Lentz's method."""
    c, d = 1.0, 1.0 / _away_from_zero(1.0 - (a + b) * x / (a + 1.0))
    fraction = d
    for m in range(1, 10_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 / _away_from_zero(1.0 + term * d)
            c = _away_from_zero(1.0 + term / c)
            fraction *= c * d
        if abs(c * d - 1.0) < _LIKE:
            break
    return fraction


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
