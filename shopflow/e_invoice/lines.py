"""Lines of an invoice as EN 16931 has them: items, allowances for discounts, and notes.

No price is below zero there (BR-27): a discount is an allowance on the document with its category
of tax (BG-20), and a deposit taken off an item with a quantity below zero.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from shopflow.documents.invoice import Invoice
from shopflow.documents.money import LineTax, MoneyLine
from shopflow.e_invoice.units import ONE, code_of, has_code

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class Item:
    """A line of work or goods."""

    name: str
    description: str
    part_number: str
    quantity: Decimal
    unit: str
    """Code of its unit."""

    price: Decimal
    """Of one, before tax; never below zero."""

    net: Decimal
    tax: LineTax


@dataclass(frozen=True)
class Allowance:
    """A discount in one category of tax, above zero."""

    reason: str
    amount: Decimal
    tax: LineTax


def items(content: Invoice) -> list[Item]:
    """Lines of work and goods, and the deposits taken off."""
    return [_item(content, line) for line in content.lines if _is_item(line)]


def allowances(content: Invoice) -> list[Allowance]:
    """Discounts, each by category of tax."""
    return [
        Allowance(_reason(line), -share.net, share)
        for line in content.lines
        if line.price < 0 and not line.group
        for share in _shares(content, line)
        if share.net
    ]


def notes(content: Invoice) -> Iterator[str]:
    """Lines that only say something."""
    for line in content.lines:
        if line.is_text:
            yield ": ".join(filter(None, (line.head, line.what)))


def _is_item(line: MoneyLine) -> bool:
    return not line.is_text and (line.price >= 0 or bool(line.group))


def _shares(content: Invoice, line: MoneyLine) -> tuple[LineTax, ...]:
    """The price of a line by category; of one category on most documents."""
    if line.shares:
        return line.shares
    part = content.tax.by_rate[0]
    return (LineTax(part.code, part.rate_percent, line.price),)


def _item(content: Invoice, line: MoneyLine) -> Item:
    words, _, unit = line.quantity.partition(" ")
    quantity, price = Decimal(words or 1), line.unit_price
    if line.price < 0:
        quantity, price, unit = Decimal(-1), -line.price, ""
    elif not line.price:
        price = Decimal(0)
    elif price is None or _net(quantity, price) != line.price:
        quantity, price, unit = Decimal(1), line.price, ""
    described = (
        line.head,
        line.detail,
        line.group,
        line.quantity if not has_code(unit) else "",
    )
    return Item(
        name=line.what,
        description=", ".join(filter(None, described)),
        part_number=line.part_number,
        quantity=quantity,
        unit=code_of(unit) if unit else ONE,
        price=price,
        net=line.price,
        tax=_shares(content, line)[0],
    )


def _net(quantity: Decimal, price: Decimal) -> Decimal:
    return (quantity * price).quantize(HUNDREDTH, ROUND_HALF_UP)


def _reason(line: MoneyLine) -> str:
    detail = f" ({line.detail})" if line.detail else ""
    head = f"{line.head}: " if line.head else ""
    return f"{head}{line.what}{detail}"
