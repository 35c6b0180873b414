"""The receipt of a payment: a deposit, a payment, or money paid back."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents.receipt import Receipt
from shopflow.papers.money import addressed, sums
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, TITLE, gap, para
from shopflow.papers.tables import facts, signatures


def receipt(content: Receipt) -> bytes:
    """The receipt as PDF, on one page."""
    sheet = Sheet(
        content.shop, content.display, content.title, content.job.number, content.recorded_at
    )
    width = sheet.width
    word = "Paid back" if content.amount < 0 else "Received"
    story: list[Flowable] = [
        para(content.title, TITLE),
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        sums(_left(content), (word, content.display.money(abs(content.amount))), width),
        gap(10),
        para(f"{word} with thanks." if content.amount > 0 else f"{word}.", NOTE),
        signatures((("Signature", content.recorded_by, 0.6), ("Date", "", 0.4)), width),
    ]
    return sheet.build(story)


def _facts(content: Receipt) -> list[tuple[str, str]]:
    return [
        ("Payment", content.number),
        ("Date", content.display.day(content.received_on)),
        ("Paid by", content.method),
        ("Note", content.note),
        ("Job", content.job.number),
        ("Heads", "\n".join(content.heads)),
        ("Recorded by", content.recorded_by),
    ]


def _left(content: Receipt) -> list[tuple[str, str]]:
    """Balance of the job, this payment included."""
    over = content.left < 0
    name = "In your favor, this counted in" if over else "Left to pay, this counted in"
    return [(name, content.display.money(abs(content.left)))]
