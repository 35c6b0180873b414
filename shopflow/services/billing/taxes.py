"""Tax of a customer's charges: the rate of each class, the tax by category, exemptions."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.calc.totals import Category, Totals, by_category
from shopflow.documents.money import LineTax, Tax, TaxPart, percent
from shopflow.models import Customer, ExemptionKind, Job, Shop, TaxClass
from shopflow.services.paperwork import facts
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext, lazy, translated

Share = tuple[TaxClass, Decimal]
"""An amount before tax in a class."""

CODES = {
    ExemptionKind.EXEMPT: "E",
    ExemptionKind.REVERSE_CHARGE: "AE",
    ExemptionKind.WITHIN_EU: "K",
    ExemptionKind.EXPORT: "G",
    ExemptionKind.NOT_SUBJECT: "O",
}
"""Category of each kind of exemption (UNTDID 5305)."""

REASONS = {
    ExemptionKind.REVERSE_CHARGE: lazy("Reverse charge: the customer owes the tax"),
    ExemptionKind.WITHIN_EU: lazy("Supply to another EU country"),
    ExemptionKind.EXPORT: lazy("Export outside the EU"),
    ExemptionKind.NOT_SUBJECT: lazy("Not subject to tax"),
}
"""Reason stated of each kind where the customer's record gives none."""


def category(shop: Shop, customer: Customer, tax_class: TaxClass) -> Category:
    """The category and rate of a class for a customer.

    The customer's own rate takes the place of the standard one; at 0 nothing is taxed. An
    exemption stands where the customer has no rate of their own above 0.
    """
    own = customer.tax_rate_percent
    if is_exempt(customer):
        return Category(CODES[customer.exemption_kind], Decimal(0))
    if tax_class is TaxClass.EXEMPT:
        return Category("E", Decimal(0))
    if tax_class is TaxClass.ZERO or own == 0:
        return _at(Decimal(0))
    if tax_class is TaxClass.REDUCED:
        return _at(shop.reduced_tax_rate_percent)
    return _at(shop.tax_rate_percent if own is None else own)


def _at(rate: Decimal) -> Category:
    return Category("S" if rate else "Z", rate)


def is_exempt(customer: Customer) -> bool:
    """True where the customer states a reason to pay no tax."""
    has_reason = customer.tax_exemption or customer.exemption_kind is not ExemptionKind.EXEMPT
    return bool(has_reason) and not customer.tax_rate_percent


def rates(shop: Shop) -> dict[TaxClass, Decimal]:
    """The shop's rate of each class in percent."""
    zero = Decimal(0)
    return {
        TaxClass.STANDARD: shop.tax_rate_percent,
        TaxClass.REDUCED: shop.reduced_tax_rate_percent,
        TaxClass.ZERO: zero,
        TaxClass.EXEMPT: zero,
    }


def tax(db: Session, job: Job, shares: Iterable[Share]) -> Tax:
    """The tax on these amounts for the customer of a job."""
    shop, customer = get_shop(db), job.customer
    sums = by_category(
        (category(shop, customer, tax_class), amount) for tax_class, amount in shares
    )
    if not sums:
        first = category(shop, customer, TaxClass.STANDARD)
        sums = by_category([(first, Decimal("0.00"))])
    parts = tuple(_part(db, shop, customer, each, total) for each, total in sums.items())
    net, amount = sum_of(part.net for part in parts), sum_of(part.tax for part in parts)
    only = parts[0] if len(parts) == 1 else None
    return Tax(
        net=net,
        rate_percent=only.rate_percent if only else Decimal(0),
        tax=amount,
        total=net + amount,
        label=translated(the_style(db).tax_label),
        exemption=only.exemption if only else "",
        parts=() if only else parts,
        code=only.code if only and only.code not in "SZE" else "",
    )


def sum_of(amounts: Iterable[Decimal]) -> Decimal:
    """The sum of amounts of money, with its two decimals."""
    return sum(amounts, Decimal("0.00"))


def _part(
    db: Session, shop: Shop, customer: Customer, category: Category, total: Totals
) -> TaxPart:
    exemption = ""
    if category.code in CODES.values():
        exemption = _exemption(db, shop, customer)
    return TaxPart(category.code, category.rate_percent, total.net, total.tax, exemption)


def _exemption(db: Session, shop: Shop, customer: Customer) -> str:
    """Reason that a document states, with the customer's certificate."""
    if not is_exempt(customer):
        return shop.exempt_reason or gettext("goods and services exempt from tax")
    stated = customer.tax_exemption or str(REASONS[customer.exemption_kind])
    if not customer.exemption_certificate:
        return stated
    reason = gettext(
        "{reason}, certificate {number}",
        reason=stated,
        number=customer.exemption_certificate,
    )
    until = customer.exemption_valid_until
    if until is None:
        return reason
    day = facts.display(db, customer).day(until)
    return gettext("{reason}, valid until {day}", reason=reason, day=day)


def by_category_of(db: Session, job: Job, shares: Iterable[Share]) -> tuple[LineTax, ...]:
    """Amounts of a line by category of tax, as the customer of a job is taxed."""
    sums: dict[Category, Decimal] = {}
    for tax_class, amount in shares:
        each = category(get_shop(db), job.customer, tax_class)
        sums[each] = sums.get(each, Decimal("0.00")) + amount
    return tuple(LineTax(each.code, each.rate_percent, net) for each, net in sums.items())


def mark(share: LineTax) -> str:
    """The rate of a line, as "8.25 %"."""
    return gettext("exempt") if share.code in CODES.values() else percent(share.rate_percent)


def outdated(customer: Customer, today: date) -> date | None:
    """Day until which an exempt customer's certificate was valid, where that has passed."""
    until = customer.exemption_valid_until
    return until if until is not None and until < today and is_exempt(customer) else None
