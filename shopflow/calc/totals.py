"""Net, tax and total of a money paper: exact decimals."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from shopflow.texts import gettext

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class Totals:
    """Totals of a document's amounts."""

    net: Decimal
    rate_percent: Decimal
    tax: Decimal
    total: Decimal


@dataclass(frozen=True, order=True)
class Category:
    """A category of tax with its rate; lines of one category are taxed together."""

    code: str
    """As UNCL 5305 has it: S at a rate, Z at the zero rate, E exempt."""

    rate_percent: Decimal


def by_category(amounts: Iterable[tuple[Category, Decimal]]) -> dict[Category, Totals]:
    """Amounts before tax by category, each with the tax on its sum; the highest rate first.

    The tax of each category is taken on the sum of its amounts and rounded once, half up
    (EN 16931-1, rules BR-S-8, BR-S-9, BR-Z-8, BR-Z-9, BR-E-8, BR-E-9 and BR-CO-17). The tax of a
    document is the sum of these (BR-CO-14). Raises ValueError as `totals`.

    >>> [row.tax for row in by_category([(Category("S", Decimal("19")), Decimal("10.05")),
    ...                                  (Category("S", Decimal("7")), Decimal("20.05"))]).values()]
    [Decimal('1.91'), Decimal('1.40')]
    """
    groups: dict[Category, list[Decimal]] = {}
    for category, amount in amounts:
        groups.setdefault(category, []).append(amount)
    order = sorted(groups, key=lambda category: (-category.rate_percent, category.code))
    return {category: totals(groups[category], category.rate_percent) for category in order}


def totals(amounts: Iterable[Decimal], rate_percent: Decimal) -> Totals:
    """Amounts before tax, summed, with the tax on their sum at one rate in percent.

    net = sum of the amounts; tax = net * rate / 100, rounded once, half up, to the hundredth;
    total = net + tax. Tax is taken on the sum and not line by line, so that one rate on a paper
    gives one tax whatever the lines (EN 16931-1, rules BR-CO-10, BR-CO-15 and BR-CO-17).
    Raises ValueError where an amount has more than two decimals, or the rate is below zero.

    >>> totals([Decimal("10.05"), Decimal("20.05")], Decimal("8.25")).tax
    Decimal('2.48')
    """
    net = sum(amounts, Decimal("0.00"))
    if net != net.quantize(HUNDREDTH):
        raise ValueError(gettext("{net} has more than two decimals", net=net))
    if rate_percent < 0:
        raise ValueError(gettext("a tax rate is not below zero"))
    tax = (net * rate_percent / 100).quantize(HUNDREDTH, ROUND_HALF_UP)
    return Totals(net, rate_percent, tax, net + tax)
