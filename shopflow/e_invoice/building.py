"""The file of an invoice, put together element by element."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from shopflow.documents.e_invoice import ElectronicInvoice
from shopflow.documents.invoice import Invoice
from shopflow.documents.money import TaxPart
from shopflow.e_invoice.addresses import address_of
from shopflow.e_invoice.lines import Allowance, Item, allowances, items, notes

PROFILE = "urn:cen.eu:en16931:2017"
SCHEMA = "FACTUR-X_EN16931"
INVOICE, CREDIT_NOTE, PREPAYMENT = "380", "381", "386"
"""Types of document (UNTDID 1001)."""

SEPA_TRANSFER, CREDIT_TRANSFER = "58", "30"
"""Means of payment (UNTDID 4461)."""

EXEMPTIONS = {
    "AE": "VATEX-EU-AE",
    "K": "VATEX-EU-IC",
    "G": "VATEX-EU-G",
    "O": "VATEX-EU-O",
}
"""Codes of reasons why no tax is due (VATEX), by category of tax (UNTDID 5305)."""


def xml_of(content: Invoice, stated: ElectronicInvoice) -> str:
    """An invoice or credit note as EN 16931; the same data give the same text.

    Raises lxml's XMLSyntaxError where it does not follow the schema.
    """
    from drafthorse.models.document import Document

    document = Document()
    document.context.guideline_parameter.id = PROFILE
    document.header.id = content.number
    document.header.type_code = _type_code(content)
    document.header.issue_date_time = _day(content)
    _add_notes(document, content)
    _agree(document.trade.agreement, content, stated)
    _deliver(document.trade.delivery, content, stated)
    for position, item in enumerate(items(content), start=1):
        document.trade.items.add(_line(position, item))
    _settle(document.trade.settlement, content, stated)
    xml: bytes = document.serialize(schema=SCHEMA)
    return xml.decode()


def _type_code(content: Invoice) -> str:
    if content.credits:
        return CREDIT_NOTE
    return PREPAYMENT if content.is_deposit else INVOICE


def _day(content: Invoice) -> date:
    return content.issued_at.astimezone(ZoneInfo(content.display.time_zone)).date()


def _add_notes(document: Any, content: Invoice) -> None:
    from drafthorse.models.note import IncludedNote

    for text in filter(None, (content.reason, *notes(content))):
        note = IncludedNote()
        note.content = text
        document.header.notes.add(note)


def _agree(agreement: Any, content: Invoice, stated: ElectronicInvoice) -> None:
    agreement.buyer_reference = stated.buyer_reference
    agreement.buyer_order.issuer_assigned_id = content.job.order_number
    _seller(agreement.seller, content, stated)
    buyer = agreement.buyer
    buyer.name = content.customer.name
    _address(buyer.address, content.customer.address, stated.customer_country)
    if content.customer.email:
        buyer.electronic_address.uri_ID = ("EM", content.customer.email)
    if not _is_outside_tax(content):
        _register(buyer, "VA", stated.customer_vat_id)


def _seller(seller: Any, content: Invoice, stated: ElectronicInvoice) -> None:
    shop = content.shop
    vat_id = "" if _is_outside_tax(content) else stated.vat_id
    # BR-CO-26: one without a VAT number is told by its tax number.
    seller.id = "" if vat_id else content.tax_number or stated.vat_id
    seller.name = shop.name
    seller.contact.person_name = content.issued_by
    seller.contact.telephone.number = shop.phone
    seller.contact.email.address = shop.email
    _address(seller.address, shop.address, stated.country)
    if shop.email:
        seller.electronic_address.uri_ID = ("EM", shop.email)
    if not _is_outside_tax(content):
        _register(seller, "FC", content.tax_number)
    _register(seller, "VA", vat_id)


def _is_outside_tax(content: Invoice) -> bool:
    """True where nothing is subject to tax: no tax number may be stated then (BR-O-2)."""
    return any(part.code == "O" for part in content.tax.by_rate)


def _register(party: Any, scheme: str, number: str) -> None:
    from drafthorse.models.party import TaxRegistration

    if number:
        registration = TaxRegistration()
        registration.id = (scheme, number)
        party.tax_registrations.add(registration)


def _address(element: Any, text: str, country: str) -> None:
    address = address_of(text)
    element.postcode = address.post_code
    for name, line in zip(("line_one", "line_two", "line_three"), address.lines, strict=False):
        setattr(element, name, line)
    element.city_name = address.city
    element.country_id = country


def _deliver(delivery: Any, content: Invoice, stated: ElectronicInvoice) -> None:
    if stated.supplied_on is not None:
        delivery.event.occurrence = stated.supplied_on
    if any(part.code == "K" for part in content.tax.by_rate):
        # BR-IC-12: a supply within the Union says where it goes.
        delivery.ship_to.name = content.customer.name
        _address(delivery.ship_to.address, content.customer.address, stated.customer_country)


def _line(position: int, item: Item) -> Any:
    from drafthorse.models.tradelines import LineItem

    line = LineItem()
    line.document.line_id = str(position)
    line.product.seller_assigned_id = item.part_number
    line.product.name = item.name
    line.product.description = item.description
    line.agreement.net.amount = _plain(item.price)
    line.delivery.billed_quantity = (_plain(item.quantity), item.unit)
    line.settlement.trade_tax.type_code = "VAT"
    line.settlement.trade_tax.category_code = item.tax.code
    line.settlement.trade_tax.rate_applicable_percent = _rate(item.tax.code, item.tax.rate_percent)
    line.settlement.monetary_summation.total_amount = _cents(item.net)
    return line


def _settle(settlement: Any, content: Invoice, stated: ElectronicInvoice) -> None:
    settlement.payment_reference = content.number
    settlement.currency_code = content.display.currency
    if stated.iban and not content.credits:
        settlement.payment_means.add(_means(content, stated))
    for part in content.tax.by_rate:
        settlement.trade_tax.add(_tax(part))
    taken_off = allowances(content)
    for allowance in taken_off:
        settlement.allowance_charge.add(_allowance(allowance))
    settlement.terms.add(_terms(content))
    _sum(settlement.monetary_summation, content, taken_off)
    if stated.credits_number:
        settlement.invoice_referenced_document.issuer_assigned_id = stated.credits_number
        _date_reference(settlement.invoice_referenced_document, stated.credits_on)


def _date_reference(reference: Any, day: date | None) -> None:
    if day is not None:
        reference.issue_date_time = day


def _means(content: Invoice, stated: ElectronicInvoice) -> Any:
    from drafthorse.models.payment import PaymentMeans

    means = PaymentMeans()
    is_euro = content.display.currency == "EUR"
    means.type_code = SEPA_TRANSFER if is_euro else CREDIT_TRANSFER
    means.payee_account.iban = stated.iban
    means.payee_account.account_name = content.shop.name
    means.payee_institution.bic = stated.bic
    return means


def _tax(part: TaxPart) -> Any:
    from drafthorse.models.accounting import ApplicableTradeTax

    tax = ApplicableTradeTax()
    tax.calculated_amount = _cents(part.tax)
    tax.type_code = "VAT"
    tax.exemption_reason = part.exemption
    tax.basis_amount = _cents(part.net)
    tax.category_code = part.code
    tax.exemption_reason_code = EXEMPTIONS.get(part.code, "")
    tax.rate_applicable_percent = _rate(part.code, part.rate_percent)
    return tax


def _allowance(allowance: Allowance) -> Any:
    from drafthorse.models.accounting import CategoryTradeTax, TradeAllowanceCharge

    element = TradeAllowanceCharge()
    element.indicator = False
    element.actual_amount = _cents(allowance.amount)
    element.reason = allowance.reason
    tax = CategoryTradeTax()
    tax.type_code = "VAT"
    tax.category_code = allowance.tax.code
    tax.rate_applicable_percent = _rate(allowance.tax.code, allowance.tax.rate_percent)
    element.trade_tax.add(tax)
    return element


def _terms(content: Invoice) -> Any:
    from drafthorse.models.payment import PaymentTerms

    terms = PaymentTerms()
    # BR-CO-25: what is to be paid is due on a day or under terms; a credit note is set off.
    terms.description = content.credits or content.payment_terms
    if content.due_on is not None:
        terms.due = content.due_on
    return terms


def _sum(summation: Any, content: Invoice, taken_off: list[Allowance]) -> None:
    tax = content.tax
    allowance = sum((each.amount for each in taken_off), Decimal(0))
    received = sum((each.amount for each in content.received), Decimal(0))
    summation.line_total = _cents(tax.net + allowance)
    if allowance:
        summation.allowance_total = _cents(allowance)
    summation.tax_basis_total = (_cents(tax.net), None)
    summation.tax_total = (_cents(tax.tax), content.display.currency)
    summation.grand_total = (_cents(tax.total), None)
    if received:
        summation.prepaid_total = _cents(received)
    summation.due_amount = _cents(tax.total - received)


def _rate(code: str, rate: Decimal) -> str:
    """A rate in percent; nothing where there is no tax to have one (BR-O-5)."""
    return "" if code == "O" else _plain(rate)


def _cents(amount: Decimal) -> str:
    return f"{amount:.2f}"


def _plain(number: Decimal) -> str:
    """A number without exponent and without zeros at its end."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
