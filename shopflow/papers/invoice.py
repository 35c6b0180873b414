"""The invoice, and the credit note that takes one back, whole or in part."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents.invoice import Invoice
from shopflow.papers.money import ROUNDING, addressed, lines_table, sums, tax_rows
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, STRONG, TITLE, gap, heading, para, paragraphs
from shopflow.papers.tables import boxed, facts

PREVIEW = "Preview, not issued"


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
        *heading("Credited" if content.credits else "Work"),
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
        ("Credits", content.credits if content.stands is None else f"part of {content.credits}"),
        ("Balance after credit", "" if content.stands is None else display.money(content.stands)),
        ("Reason", content.reason),
        ("Heads", "\n".join(content.heads)),
        ("Declined, not charged", "\n".join(content.declined)),
    ]


def _sums(content: Invoice, width: float) -> list[Flowable]:
    money = content.display.money
    rows = tax_rows(content.tax, content.display)
    total = money(content.tax.total)
    if content.credits:
        last = ("Total credited", total)
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
