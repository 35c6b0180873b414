"""The chi-squared distribution: how likely chance alone makes residuals this large."""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

from shopflow.texts import gettext


def chance_above(value: float, freedom: int) -> float:
    r"""Chance that chi-squared is at least this by chance alone.

    .. math:: Q(\chi^2|\nu) = e^{-\chi^2/2} \sum_{k<\nu/2} (\chi^2/2)^k / k!

    for even ν; for odd ν the sum runs over halves, with the normal distribution's tail added.

    Parameters
    ----------
    value : χ², not negative
    freedom : degrees of freedom ν, 1 or more

    Raises
    ------
    ValueError where there is no degree of freedom

    Notes
    -----
    Source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.4.4 and 26.4.5.

    Examples
    --------
    ISO/TS 28037:2010 has 9.488 as the 95 % quantile for 4 degrees of freedom:

    >>> round(chance_above(9.488, 4), 4)
    0.05
    """
    if freedom < 1:
        raise ValueError(gettext("without a degree of freedom there is nothing to check"))
    half = 0.5 * value
    if freedom % 2 == 0:
        term, tail, first = exp(-half), 0.0, 1.0
    else:
        term, tail, first = exp(-half) * sqrt(half * 4.0 / pi), erfc(sqrt(half)), 1.5
    for step in range(freedom // 2):
        tail += term
        term *= half / (first + step)
    return tail
