"""The invoice, and the credit note that takes one back, whole or in part."""

from __future__ import annotations

from dataclasses import replace

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents import countries
from shopflow.documents.e_invoice import in_groups
from shopflow.documents.invoice import Invoice
from shopflow.documents.shop import Party
from shopflow.papers.blocks import boxed
from shopflow.papers.e_invoice import attached
from shopflow.papers.language import in_its_language
from shopflow.papers.money import (
    addressed,
    exemptions,
    lines_table,
    lines_title,
    rounding,
    sums,
    tax_rows,
)
from shopflow.papers.sheet import Sheet
from shopflow.papers.signed import signed_note
from shopflow.papers.style import NOTE, STRONG, gap, heading, paper_title, para
from shopflow.papers.tables import facts
from shopflow.texts import gettext, lazy

PREVIEW = lazy("Preview, not issued")


@in_its_language
def invoice(content: Invoice) -> bytes:
    """The invoice or credit note as PDF."""
    number = str(PREVIEW) if content.preview else content.number
    sheet = Sheet(content.shop, content.display, content.kind, number, content.issued_at)
    width = sheet.width
    story: list[Flowable] = [
        paper_title(content.kind),
        *_preview(content, width),
        addressed(_customer(content), width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        *heading(_title(content)),
        lines_table(content.lines, content.display, width, heads=content.heads),
        *_sums(content, width),
        *exemptions(content.tax),
        rounding(content.tax),
        *_terms(content, width),
        *_signed(content),
    ]
    return sheet.build(story, attached(content))


def _customer(content: Invoice) -> Party:
    """The customer, with their country where it is another one, and their VAT number."""
    stated = content.electronic
    if stated is None:
        return content.customer
    abroad = stated.customer_country != stated.country
    lines = (
        content.customer.address,
        countries.name(stated.customer_country) if abroad else "",
        gettext("VAT number {number}", number=stated.customer_vat_id)
        if stated.customer_vat_id
        else "",
    )
    return replace(content.customer, address="\n".join(filter(None, lines)))


def _of_electronic(content: Invoice) -> list[tuple[str, str]]:
    """Facts that an invoice as EN 16931 states, on its paper as in its file."""
    stated = content.electronic
    if stated is None:
        return []
    day = content.display.day(stated.supplied_on) if stated.supplied_on else ""
    return [
        (gettext("Your reference"), stated.buyer_reference),
        (gettext("Day of supply"), day),
        (gettext("Our VAT number"), stated.vat_id),
    ]


def _title(content: Invoice) -> str:
    """The heading of the lines."""
    if content.credits:
        return gettext("Credited")
    return gettext("Deposit") if content.is_deposit else lines_title(content.lines)


def _preview(content: Invoice, width: float) -> list[Flowable]:
    """The mark that no preview goes without."""
    if not content.preview:
        return []
    words = gettext("Preview, not issued. It has no number and is no demand for payment.")
    return [boxed([para(words, STRONG)], width), gap(4)]


def _facts(content: Invoice) -> list[tuple[str, str]]:
    display = content.display
    return [
        (content.kind, content.number),
        (gettext("Issued"), "" if content.preview else display.moment(content.issued_at)),
        (gettext("Issued by"), "" if content.preview else content.issued_by),
        (gettext("Due"), display.day(content.due_on) if content.due_on else ""),
        (gettext("Job"), content.job.number),
        (gettext("Your order"), content.job.order_number),
        *_of_electronic(content),
        (gettext("Tax number"), content.tax_number),
        (
            gettext("Credits"),
            content.credits
            if content.stands is None
            else gettext("part of {credits}", credits=content.credits),
        ),
        (
            gettext("Balance after credit"),
            "" if content.stands is None else display.money(content.stands),
        ),
        (gettext("Reason"), content.reason),
        (gettext("Heads"), "\n".join(content.heads)),
        (gettext("Declined, not charged"), "\n".join(content.declined)),
    ]


def _sums(content: Invoice, width: float) -> list[Flowable]:
    money = content.display.money
    rows = tax_rows(content.tax, content.display)
    total = money(content.tax.total)
    if content.credits:
        last = (gettext("Total credited"), total)
    else:
        rows += [(gettext("Total"), total)]
        rows += [(item.what, money(-item.amount)) for item in content.received]
        over = content.balance < 0
        name = gettext("Balance in your favor") if over else gettext("Balance to pay")
        last = (name, money(abs(content.balance)))
    return [sums(rows, last, width)]


def _terms(content: Invoice, width: float) -> list[Flowable]:
    rows = [(gettext("Terms"), content.payment_terms), (gettext("Pay to"), _payee(content))]
    table = facts(rows, width, columns=1)
    return [*heading(gettext("Payment"), 20 * mm), *table] if table else []


def _payee(content: Invoice) -> str:
    """Account and ways to pay."""
    stated = content.electronic
    if stated is None or not stated.iban or content.credits:
        return content.payment_to
    bank = f", BIC {stated.bic}" if stated.bic else ""
    return "\n".join(filter(None, (f"IBAN {in_groups(stated.iban)}{bank}", content.payment_to)))


def _signed(content: Invoice) -> list[Flowable]:
    """The key, with a caution where there is somewhere to pay to."""
    note = signed_note(content.signing_key)
    if not note or not _payee(content) or content.credits:
        return note
    caution = gettext(
        "Before you pay, verify that this PDF is signed with that key: account numbers are changed "
        "on forged invoices."
    )
    return [*note, para(caution, NOTE)]
