"""Chambers of a head made equal: how much larger to grind each, and the compression that makes."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TypeVar

from shopflow.calc.compression import compression_ratio
from shopflow.texts import gettext

Number = TypeVar("Number", float, Decimal)
ALIKE = 0.2e-6 * (1.0 + 1e-9)
"""Largest difference of chambers that match, m3: a burette does not tell less for certain. Common
practice, no source."""


def short_of_largest(volumes: Sequence[Number]) -> list[Number]:
    """Volume to grind each chamber larger by, so that it is as large as the largest.

    Metal can only be taken away, so the largest chamber is the one the others are brought to.
    Common practice, no source.

    >>> short_of_largest([Decimal("53.8"), Decimal("54.2"), Decimal("54.1")])
    [Decimal('0.4'), Decimal('0.0'), Decimal('0.1')]
    """
    largest = max(volumes)
    return [largest - volume for volume in volumes]


def spread(values: Sequence[Number]) -> Number:
    """The largest less the smallest.

    >>> spread([Decimal("53.8"), Decimal("54.2"), Decimal("54.1")])
    Decimal('0.4')
    """
    return max(values) - min(values)


def ratios(swept: float, chambers: Sequence[float], rest: float) -> list[float]:
    """Compression ratio of each cylinder.

    Parameters
    ----------
    swept : volume of one cylinder, m3
    chambers : in the head, one to a cylinder, m3
    rest : of the clearance volume, outside the head: gasket, deck and piston; negative where a
        dome takes up more than they hold, m3

    Returns
    -------
    dimensionless, in the order of the chambers

    Raises
    ------
    ValueError : where a chamber and the rest leave no volume above the piston

    Notes
    -----
    The geometric ratio of `compression.compression_ratio`.

    Examples
    --------
    Swept 500 cm3 over 40 + 10 and 41 + 10 cm3, by hand (500 + 50)/50 and (500 + 51)/51:

    >>> [round(ratio, 4) for ratio in ratios(500e-6, [40e-6, 41e-6], 10e-6)]
    [11.0, 10.8039]
    """
    clearances = [chamber + rest for chamber in chambers]
    if min(clearances) <= 0.0:
        raise ValueError(gettext("no volume is left above the piston"))
    return [float(compression_ratio(swept, clearance)) for clearance in clearances]
