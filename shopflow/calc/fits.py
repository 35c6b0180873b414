"""Interference, wear and recession: results of two or more sizes of one place.

Differences of exact decimals stay exact, so that a result reads as its inputs were typed.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TypeVar

Number = TypeVar("Number", float, Decimal)


def interference(insert_diameter: Number, insert_bore: Number) -> Number:
    """Excess of an insert's diameter over its bore: positive for a press fit.

    The interference of a cylindrical fit is the outside diameter less the bore, cold
    (ISO 286-1:2010, 3.2.2).

    >>> interference(Decimal("34.11"), Decimal("34.00"))
    Decimal('0.11')
    """
    return insert_diameter - insert_bore


def wear(*diameters: Number) -> Number:
    """The largest less the smallest of a stem's diameters along its length; never negative.

    >>> wear(Decimal("7.965"), Decimal("7.940"), Decimal("7.955"))
    Decimal('0.025')
    """
    return max(diameters) - min(diameters)


def recession(stem_height: Number, usual_height: Number) -> Number:
    """Excess of a stem's height over the usual one: the depth its valve has sunk by."""
    return stem_height - usual_height
