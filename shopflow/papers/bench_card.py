"""The work order's short form for the flow bench: a page a head, to write on."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents import cautions
from shopflow.documents.bench_card import BenchCard, BenchHead, ValveSizes
from shopflow.documents.head import identifiers
from shopflow.papers.blocks import take_care
from shopflow.papers.language import in_its_language
from shopflow.papers.qr_code import Corner, ScanCode
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    SUBTITLE,
    TITLE,
    beside,
    gap,
    heading,
    paper_title,
    para,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.papers.work_order import CODE
from shopflow.texts import gettext, lazy

SIDES = (lazy("Intake"), lazy("Exhaust"))
BLANK_LIFTS = 10
CONDITIONS = (
    (lazy("Bench"), lazy("Operator"), lazy("Date")),
    (lazy("Test pressure"), lazy("Barometer"), lazy("Temperature, humidity")),
    (lazy("Cylinder"), lazy("Leakage, intake"), lazy("Leakage, exhaust")),
)


@in_its_language
def bench_card(card: BenchCard) -> bytes:
    """The cards as PDF."""
    sheet = Sheet(card.shop, card.display, gettext("Bench card"), card.job.number, card.printed_at)
    return sheet.build_by_head(_head(card, head, sheet.width) for head in card.heads)


def _head(card: BenchCard, page: BenchHead, width: float) -> list[Flowable]:
    aside = CODE + 6 * mm if page.url else 0.0
    story: list[Flowable] = [Corner(ScanCode(page.url, CODE), width)] if page.url else []
    numbers = identifiers(page.head) or gettext("no casting number or serial")
    rows = [
        (gettext("Customer"), card.customer.name),
        (gettext("Promised"), card.display.day(card.job.promised_on)),
        (gettext("Asked for"), card.job.asked_for),
    ]
    return [
        *story,
        paper_title(gettext("Head {head}", head=page.head.tag), beside(TITLE, aside)),
        para(f"{page.head.engine_type}, {numbers}", beside(SUBTITLE, aside)),
        *facts(rows, width - aside),
        *take_care(cautions.texts(["bench"]), width),
        gap(8),
        _conditions(width),
        *heading(gettext("Valves")),
        _sizes(page.sizes, width),
        *heading(gettext("Flow, as read")),
        _flow(page.lifts, width),
    ]


def _conditions(width: float) -> Flowable:
    """Boxes for the conditions of the test."""
    columns = [
        Column("", width=0.0, boxed=boxed, share=share)
        for _ in CONDITIONS[0]
        for share, boxed in ((0.9, False), (1.0, True))
    ]
    rows = [[part for name in row for part in (name, "")] for row in CONDITIONS]
    return grid(columns, rows, width, row_height=7.4 * mm)


def _sizes(sizes: Sequence[ValveSizes], width: float) -> Flowable:
    columns = [
        Column(gettext("Size"), share=1.2),
        *(Column(side, share=1, boxed=True) for side in SIDES),
    ]
    rows = [[size.name, size.intake, size.exhaust] for size in sizes]
    return grid(columns, rows, width, row_height=6.2 * mm)


def _flow(lifts: Sequence[str], width: float) -> Flowable:
    """A row a lift: room for two runs on either side, and for what was seen."""
    runs = [
        Column(title, share=1, boxed=True)
        for side in SIDES
        for title in (
            gettext("{side}, first run", side=side),
            gettext("{side}, second run", side=side),
        )
    ]
    columns = [
        Column(gettext("Lift"), width=20 * mm),
        *runs,
        Column(gettext("Seen"), share=1, boxed=True),
    ]
    texts = list(lifts) or [""] * BLANK_LIFTS
    rows = [[para(text, CELL_BOLD if text else CELL), "", "", "", "", ""] for text in texts]
    return grid(columns, rows, width, row_height=7 * mm)
