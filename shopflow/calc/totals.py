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
