"""An invoice's amounts worked out anew, in Decimal, after the rules of EN 16931-1.

Each function names the rule it follows, as the standard's business rules number it; the rules'
texts are from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

CENT = Decimal("0.01")


@dataclass(frozen=True)
class Item:
    """A line of an invoice, or an allowance on it."""

    category: tuple[str, Decimal]
    quantity: Decimal = Decimal(1)
    price: Decimal = Decimal(0)
    is_part: bool = False
    allowance: Decimal | None = None
    """Per cent taken off the parts, by category (BG-20); 100 and more of none is nothing."""


def half_up(amount: Decimal) -> Decimal:
    """To the cent, half a cent away from zero."""
    with localcontext(prec=60):
        cents = abs(amount) * 100
        whole = cents // 1
        whole += 1 if cents - whole >= Decimal("0.5") else 0
        return (whole if amount >= 0 else -whole) * CENT


def net_of(item: Item) -> Decimal:
    """BT-131: quantity times net price."""
    return half_up(item.quantity * item.price)


def allowances(items: Sequence[Item]) -> list[tuple[tuple[str, Decimal], Decimal]]:
    """BT-92 of each document allowance, an allowance on several categories being several."""
    parts = [item for item in items if item.is_part]
    amounts = []
    for item in items:
        if item.allowance is not None:
            for category in dict.fromkeys(part.category for part in parts):
                base = sum(net_of(part) for part in parts if part.category == category)
                amounts.append((category, half_up(Decimal(base) * item.allowance / 100)))
    return amounts


def taxable(items: Sequence[Item]) -> dict[tuple[str, Decimal], Decimal]:
    """BT-116 by category and rate: its lines less its allowances (BR-S-8, BR-Z-8, BR-E-8)."""
    sums: dict[tuple[str, Decimal], Decimal] = {}
    for item in items:
        if item.allowance is None:
            sums[item.category] = sums.get(item.category, Decimal(0)) + net_of(item)
    for category, amount in allowances(items):
        sums[category] -= amount
    return sums


def taxes(items: Sequence[Item]) -> dict[tuple[str, Decimal], Decimal]:
    """BT-117: taxable amount times rate, to the cent (BR-CO-17); none at Z and E (BR-Z-9, E-9)."""
    return {
        (code, rate): half_up(net * rate / 100) if code == "S" else Decimal(0)
        for (code, rate), net in taxable(items).items()
    }


def total_without(items: Sequence[Item]) -> Decimal:
    """BT-109: the sum of the lines less the allowances (BR-CO-10, BR-CO-11, BR-CO-13)."""
    lines = _sum(net_of(item) for item in items if item.allowance is None)
    return lines - _sum(amount for _, amount in allowances(items))


def total_with(items: Sequence[Item]) -> Decimal:
    """BT-112: the total without tax and the tax of all categories (BR-CO-14, BR-CO-15)."""
    return total_without(items) + _sum(taxes(items).values())


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
