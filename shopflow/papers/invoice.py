"""The invoice, and the credit note that takes one back, whole or in part."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from reportlab.platypus import Flowable

from shopflow.documents import Display, JobFacts, Letterhead, Party, snapshot
from shopflow.papers.money import (
    ROUNDING,
    MoneyLine,
    Tax,
    addressed,
    lines_table,
    sums,
    tax_rows,
)
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, STRONG, TITLE, gap, heading, para, paragraphs
from shopflow.papers.tables import boxed, facts

PREVIEW = "Preview, not issued"


@dataclass(frozen=True)
class Received:
    """Money that came in before an invoice was issued."""

    what: str
    amount: Decimal


@dataclass(frozen=True)
class Invoice:
    """An invoice or credit note as it is issued."""

    shop: Letterhead
    display: Display
    kind: str
    """ "Invoice" or "Credit note"."""

    number: str
    issued_at: datetime
    issued_by: str
    customer: Party
    job: JobFacts
    heads: tuple[str, ...]
    lines: tuple[MoneyLine, ...]
    tax: Tax
    due_on: date | None = None
    received: tuple[Received, ...] = ()
    balance: Decimal = Decimal(0)
    payment_terms: str = ""
    payment_to: str = ""
    tax_number: str = ""
    credits: str = ""
    """The invoice a credit note takes back, and its date."""

    reason: str = ""
    stands: Decimal | None = field(default=None, metadata=snapshot.LATER)
    """What stands of the invoice after a credit note in part."""

    declined: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Work offered that the customer declined."""

    preview: bool = field(default=False, metadata=snapshot.LATER)
    """Whether it is only looked at: not issued, without a number."""


def invoice(content: Invoice) -> bytes:
    """The invoice or credit note as PDF."""
    number = PREVIEW if content.preview else content.number
    sheet = Sheet(content.shop, content.display, content.kind, number, content.issued_at)
    width = sheet.width
    story: list[Flowable] = [
        para(content.kind, TITLE),
        *_preview(content, width),
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        *heading("Taken back" if content.credits else "Work"),
        lines_table(content.lines, content.display, width),
        *_sums(content, width),
        para(ROUNDING, NOTE),
        *_terms(content),
    ]
    return sheet.build(story)


def _preview(content: Invoice, width: float) -> list[Flowable]:
    """The mark that no preview goes without."""
    if not content.preview:
        return []
    words = f"{PREVIEW}. It has no number and is no demand for payment."
    return [boxed([para(words, STRONG)], width), gap(4)]


def _facts(content: Invoice) -> list[tuple[str, str]]:
    display = content.display
    return [
        (content.kind, content.number),
        ("Issued", "" if content.preview else display.moment(content.issued_at)),
        ("Issued by", "" if content.preview else content.issued_by),
        ("Due", display.day(content.due_on) if content.due_on else ""),
        ("Job", content.job.number),
        ("Tax number", content.tax_number),
        ("Takes back", content.credits if content.stands is None else f"part of {content.credits}"),
        ("Left of it", "" if content.stands is None else display.money(content.stands)),
        ("Reason", content.reason),
        ("Heads", "\n".join(content.heads)),
        ("Declined, not charged", "\n".join(content.declined)),
    ]


def _sums(content: Invoice, width: float) -> list[Flowable]:
    money = content.display.money
    rows = tax_rows(content.tax, content.display)
    total = money(content.tax.total)
    if content.credits:
        last = ("Total taken back", total)
    else:
        rows += [("Total", total)]
        rows += [(item.what, money(-item.amount)) for item in content.received]
        over = content.balance < 0
        name = "Balance in your favor" if over else "Balance to pay"
        last = (name, money(abs(content.balance)))
    story = [sums(rows, last, width)]
    if content.tax.exemption:
        story.append(para(f"Exempt from tax: {content.tax.exemption}", NOTE))
    return story


def _terms(content: Invoice) -> list[Flowable]:
    texts = (("Payment", content.payment_terms), ("Pay to", content.payment_to))
    return [
        part
        for title, text in texts
        if text
        for part in (*heading(title), *paragraphs(text.splitlines()))
    ]
