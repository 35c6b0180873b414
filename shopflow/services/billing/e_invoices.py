"""Invoices as EN 16931: what they state beyond the paper, and what is missing to issue one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from shopflow.attached import attached_files
from shopflow.documents import countries
from shopflow.documents.amounts import is_currency
from shopflow.documents.e_invoice import FILE, ElectronicInvoice
from shopflow.documents.money import Tax
from shopflow.documents.snapshot import from_plain
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import Customer, Invoice
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, shop_or_none, zone
from shopflow.texts import gettext

ABROAD = frozenset({"AE", "K"})
"""Categories in which the customer owes the tax, and both sides state their VAT numbers."""


@dataclass(frozen=True)
class Missing:
    """A statement that an invoice cannot do without, and the field that holds it."""

    page: str
    """ "shop", "house_style" or "customer"."""

    field: str
    words: str


def is_offered(db: Session) -> bool:
    """True where the shop is in a country whose invoices follow EN 16931."""
    shop = shop_or_none(db)
    return shop is not None and shop.country in countries.EU


def is_on(db: Session) -> bool:
    """True where invoices carry themselves as EN 16931."""
    return is_offered(db) and the_style(db).e_invoices


def stated(
    db: Session,
    customer: Customer,
    tax: Tax,
    supplied_on: date | None,
    credits: Invoice | None = None,
) -> ElectronicInvoice | None:
    """Statements of an invoice; None where the shop does not issue such invoices.

    Raises RuleError where something is missing.
    """
    if not is_on(db):
        return None
    faults = missing(db, customer, tax)
    if faults:
        raise RuleError("; ".join(fault.words for fault in faults))
    shop, style = get_shop(db), the_style(db)
    return ElectronicInvoice(
        country=shop.country,
        customer_country=customer.country or shop.country,
        vat_id=style.vat_id,
        customer_vat_id=customer.vat_id,
        buyer_reference=customer.buyer_reference,
        iban=style.iban,
        bic=style.bic if style.iban else "",
        supplied_on=supplied_on,
        credits_number=credits.number if credits else "",
        credits_on=credits.issued_at.astimezone(zone(shop)).date() if credits else None,
    )


def is_in(invoice: Invoice) -> bool:
    """True of an issued invoice or credit note that carries itself as EN 16931."""
    return invoice.snapshot.get("electronic") is not None


def xml(invoice: Invoice) -> str:
    """The file inside an issued invoice, as issued. Raises NotFoundError where there is none."""
    if not is_in(invoice):
        raise NotFoundError(gettext("{number} is no electronic invoice", number=invoice.number))
    return attached_files(invoice.pdf)[FILE]


def missing_of_credit(db: Session, invoice: Invoice) -> list[Missing]:
    """Statements to be filled in before a credit note of an invoice can be issued."""
    tax = from_plain(Tax, invoice.snapshot["tax"])
    return missing(db, invoice.job.customer, tax)


def missing(db: Session, customer: Customer, tax: Tax) -> list[Missing]:
    """Statements to be filled in before an invoice to a customer can be issued; none where the
    shop issues none as EN 16931."""
    if not is_on(db):
        return []
    return [*_of_shop(db, tax), *_of_customer(db, customer, tax)]


def _of_shop(db: Session, tax: Tax) -> list[Missing]:
    shop, style = get_shop(db), the_style(db)
    codes = {part.code for part in tax.by_rate}
    faults = []
    if not shop.address:
        # BR-8.
        faults.append(Missing("shop", "address", gettext("enter the shop's address")))
    if not is_currency(shop.currency):
        # BR-CL-4.
        words = gettext("{code} is not a currency of ISO 4217", code=shop.currency)
        faults.append(Missing("shop", "currency", words))
    if not style.vat_id and codes & (ABROAD | {"G"}):
        # BR-AE-2, BR-IC-2, BR-G-2.
        faults.append(Missing("house_style", "vat_id", gettext("enter the shop's VAT number")))
    elif not style.vat_id and not style.tax_number:
        # BR-CO-26, BR-S-2, BR-Z-2, BR-E-2.
        words = gettext("enter the shop's VAT number or tax number")
        faults.append(Missing("house_style", "vat_id", words))
    return faults


def _of_customer(db: Session, customer: Customer, tax: Tax) -> list[Missing]:
    codes = {part.code for part in tax.by_rate}
    own = get_shop(db).country
    faults = []
    if not customer.address:
        # BR-10; Directive 2006/112/EC, article 226 (5).
        words = gettext("enter the address of {customer}", customer=customer.name)
        faults.append(Missing("customer", "address", words))
    if not customer.vat_id and codes & ABROAD:
        # BR-AE-2, BR-IC-2.
        words = gettext("enter the VAT number of {customer}", customer=customer.name)
        faults.append(Missing("customer", "vat_id", words))
    if "K" in codes and (customer.country or own) not in countries.EU - {own}:
        words = gettext("{customer} is not in another EU country", customer=customer.name)
        faults.append(Missing("customer", "country", words))
    if "G" in codes and (customer.country or own) in countries.EU:
        words = gettext("{customer} is not outside the EU", customer=customer.name)
        faults.append(Missing("customer", "country", words))
    return faults
