"""Digits of a result: its expanded uncertainty to two, and the result to the same place."""

from __future__ import annotations

import math


def places(uncertainty: float, digits: int = 2) -> int:
    """Decimal places at which an uncertainty has so many significant digits; below 0 for tens.

    Source: JCGM 100:2008, 7.2.6: usually two significant digits are enough, and the result is
    rounded to be consistent with its uncertainty. Raises ValueError
    unless it is above 0, OverflowError where it is infinite.

    >>> places(1.13), places(0.0271), places(12.4), places(0.996), places(131.0)
    (1, 3, 0, 1, -1)
    """
    own = digits - 1 - math.floor(math.log10(uncertainty))
    # 0.996 rounds up to 1.0, which has a digit more before the point.
    return own if round(uncertainty, own) < 10.0 ** (digits - own) else own - 1


def written(value: float, decimals: int) -> str:
    """A number rounded to so many decimal places, below 0 to tens.

    >>> written(206.04, 1), written(1234.0, -1)
    ('206.0', '1230')
    """
    return f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}"


def matched(value: float, uncertainty: float) -> tuple[str, str]:
    """A result and its expanded uncertainty as they are printed beside each other.

    >>> matched(206.04, 2.31)
    ('206.0', '2.3')
    """
    decimals = places(uncertainty)
    return written(value, decimals), written(uncertainty, decimals)
