"""The receipt of a payment: a deposit, a payment, or money paid back."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents.receipt import Receipt
from shopflow.papers.blocks import signatures
from shopflow.papers.language import in_its_language
from shopflow.papers.money import addressed, sums
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, gap, paper_title, para
from shopflow.papers.tables import facts
from shopflow.texts import gettext


@in_its_language
def receipt(content: Receipt) -> bytes:
    """The receipt as PDF, on one page."""
    sheet = Sheet(
        content.shop, content.display, content.title, content.job.number, content.recorded_at
    )
    width = sheet.width
    paid_back = content.amount < 0
    word = gettext("Paid back") if paid_back else gettext("Received")
    thanks = gettext("Paid back.") if paid_back else gettext("Received with thanks.")
    story: list[Flowable] = [
        paper_title(content.title),
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        sums(_left(content), (word, content.display.money(abs(content.amount))), width),
        gap(10),
        para(thanks, NOTE),
        signatures(
            ((gettext("Signature"), content.recorded_by, 0.6), (gettext("Date"), "", 0.4)), width
        ),
    ]
    return sheet.build(story)


def _facts(content: Receipt) -> list[tuple[str, str]]:
    return [
        (gettext("Payment"), content.number),
        (gettext("Date"), content.display.day(content.received_on)),
        (gettext("Paid by"), content.method),
        (gettext("Note"), content.note),
        (gettext("Job"), content.job.number),
        (gettext("Heads"), "\n".join(content.heads)),
        (gettext("Recorded by"), content.recorded_by),
    ]


def _left(content: Receipt) -> list[tuple[str, str]]:
    """Balance of the job, this payment included."""
    over = content.left < 0
    name = (
        gettext("In your favor, this counted in")
        if over
        else gettext("Left to pay, this counted in")
    )
    return [(name, content.display.money(abs(content.left)))]
