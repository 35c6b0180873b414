"""The invoice, and the credit note that takes one back, whole or in part."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents.invoice import Invoice
from shopflow.papers.blocks import boxed
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
from shopflow.papers.style import NOTE, STRONG, gap, heading, paper_title, para, paragraphs
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
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        *heading(_title(content)),
        lines_table(content.lines, content.display, width, heads=content.heads),
        *_sums(content, width),
        *exemptions(content.tax),
        rounding(content.tax),
        *_terms(content),
        *_signed(content),
    ]
    return sheet.build(story)


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


def _terms(content: Invoice) -> list[Flowable]:
    texts = ((gettext("Payment"), content.payment_terms), (gettext("Pay to"), content.payment_to))
    return [
        part
        for title, text in texts
        if text
        for part in (*heading(title), *paragraphs(text.splitlines()))
    ]


def _signed(content: Invoice) -> list[Flowable]:
    """The key, with a caution where there is somewhere to pay to."""
    note = signed_note(content.signing_key)
    if not note or not content.payment_to or content.credits:
        return note
    caution = gettext(
        "Before you pay, verify that this PDF is signed with that key: account numbers are changed "
        "on forged invoices."
    )
    return [*note, para(caution, NOTE)]
