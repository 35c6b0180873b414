"""The collection receipt: what was handed over, to whom, in what state of pay."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopflow.documents.collection import CollectionReceipt, PartBack
from shopflow.papers.blocks import signatures
from shopflow.papers.language import in_its_language
from shopflow.papers.money import addressed
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, bullets, gap, heading, paper_title, para, paragraphs
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext


@in_its_language
def collection(content: CollectionReceipt) -> bytes:
    """The receipt as PDF: one page, unless very much was handed over."""
    number = content.job.number
    sheet = Sheet(content.shop, content.display, content.title, number, content.recorded_at)
    width = sheet.width
    story: list[Flowable] = [
        paper_title(content.title),
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        *heading(gettext("Heads handed over")),
        *bullets(content.heads),
        *_parts(content.parts, width),
        *_papers(content.papers),
    ]
    if content.remarks:
        story += [*heading(gettext("Remarks")), *paragraphs(content.remarks.splitlines())]
    story += [gap(8), KeepTogether(_signed(content, width))]
    return sheet.build(story)


def _facts(content: CollectionReceipt) -> list[tuple[str, str]]:
    display = content.display
    left = content.balance
    owed = display.money(abs(left)) if left else gettext("nothing")
    if left < 0:
        owed = gettext("{amount} in the customer's favor", amount=owed)
    return [
        (gettext("Job"), content.job.number),
        (gettext("Sent to") if content.shipped else gettext("Collected by"), content.handed_to),
        (gettext("Date"), display.day(content.handed_on)),
        (gettext("Handed over by"), content.handed_over_by),
        (gettext("Carrier"), content.carrier),
        (gettext("Parcels"), str(content.parcels or "")),
        (gettext("Tracking number"), content.tracking_number),
        (gettext("Packed by"), content.packed_by),
        (gettext("Left to pay"), owed),
    ]


def _parts(parts: Sequence[PartBack], width: float) -> list[Flowable]:
    if not parts:
        return []
    columns = [
        Column(gettext("Head")),
        Column(gettext("Part"), share=2),
        Column(gettext("Came in"), figures=True),
        Column(gettext("Went back"), figures=True),
        Column(gettext("Where they differ"), share=3),
    ]
    rows = [
        (part.tag, part.name, str(part.received), str(part.returned), part.word) for part in parts
    ]
    return [*heading(gettext("Parts that came in with them")), grid(columns, rows, width)]


def _papers(papers: Sequence[str]) -> list[Flowable]:
    return [*heading(gettext("Documents")), *bullets(papers or (gettext("None went along."),))]


def _signed(content: CollectionReceipt, width: float) -> list[Flowable]:
    if content.shipped:
        words = gettext("Check the parcels against this note before they are signed for.")
        return [para(words, NOTE)]
    words = gettext("I have received the heads, parts and documents listed above.")
    columns = [
        (gettext("Signature"), "", 3.0),
        (gettext("Name"), content.handed_to, 3.0),
        (gettext("Date"), content.display.day(content.handed_on), 2.0),
    ]
    total = sum(share for _, _, share in columns)
    lines = [(label, text, share / total) for label, text, share in columns]
    return [para(words, NOTE), signatures(lines, width)]
