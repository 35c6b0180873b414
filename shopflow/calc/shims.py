"""Shims under a spring: the thickness between its height and the one wanted, from those on hand."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from itertools import combinations_with_replacement

MOST = 4
"""Shims under one spring. Common practice, no source: more of them work loose."""


def in_steps(over: Decimal, step: Decimal) -> Decimal:
    """Thickness to shim in whole steps; 0 where the spring stands low enough.

    Rounded down, so that the spring never stands lower than wanted.

    >>> in_steps(Decimal("0.023"), Decimal("0.005"))
    Decimal('0.020')
    """
    return (max(over, Decimal(0)) // step) * step


def stack(over: Decimal, sizes: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """The shims that come closest to a thickness without passing it, the thickest first.

    Of stacks as thick the one of fewest shims; none where even the thinnest is too thick, so that
    the spring never stands lower than wanted.

    >>> stack(Decimal("0.047"), [Decimal("0.015"), Decimal("0.030"), Decimal("0.060")])
    (Decimal('0.030'), Decimal('0.015'))
    """
    return _stack(over, tuple(sorted(set(sizes), reverse=True)))


@lru_cache(maxsize=512)
def _stack(over: Decimal, sizes: tuple[Decimal, ...]) -> tuple[Decimal, ...]:
    stacks = (
        shims
        for count in range(MOST + 1)
        for shims in combinations_with_replacement(sizes, count)
        if sum(shims) <= over
    )
    # The first of the thickest has the fewest shims.
    return max(stacks, key=lambda shims: sum(shims), default=())
