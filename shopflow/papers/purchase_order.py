"""The purchase order to a supplier."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents.purchase_order import PurchaseOrder
from shopflow.papers.language import in_its_language
from shopflow.papers.money import addressed, sums
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import STRONG, gap, heading, paper_title, para, paragraphs
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext


@in_its_language
def purchase_order(content: PurchaseOrder) -> bytes:
    """The order as PDF; a draft or a cancelled one says so across its pages."""
    display = content.display
    title = gettext("Purchase order")
    mark = gettext("Draft") if content.placed_at is None else ""
    if content.cancelled:
        mark = gettext("Cancelled")
    sheet = Sheet(content.shop, display, title, content.number, content.made_at, mark=mark)
    width = sheet.width
    rows = [
        (gettext("Order number"), content.number),
        (gettext("Date"), display.moment(content.placed_at)),
        (gettext("Ordered by"), content.placed_by),
        (gettext("Deliver by"), display.day(content.expected_on)),
        (gettext("Our customer number"), content.account_number),
        (gettext("Attention"), content.contact),
    ]
    story: list[Flowable] = [
        paper_title(f"{title} {content.number}"),
        addressed(content.supplier, width * 0.6),
        gap(4),
        *facts([(name, value) for name, value in rows if value not in ("", "–")], width),
    ]
    if content.cancelled:
        story.append(para(gettext("Cancelled: {reason}", reason=content.cancelled), STRONG))
    story += [*heading(gettext("Parts ordered")), _lines(content, width)]
    if any(line.amount is not None for line in content.lines):
        total = (gettext("Total before tax"), display.money(content.total))
        story.append(sums([], total, width))
    if content.notes:
        story += [*heading(gettext("Note"), 20 * mm), *paragraphs([content.notes])]
    story += [*heading(gettext("Deliver to"), 20 * mm), *paragraphs([_address(content)])]
    return sheet.build(story)


def _lines(content: PurchaseOrder, width: float) -> Flowable:
    display = content.display
    columns = [
        Column("", width=8 * mm),
        Column(gettext("Your number"), width=34 * mm),
        Column(gettext("Description"), share=1),
        Column(gettext("Quantity"), figures=True, width=24 * mm),
        Column(gettext("Unit price"), figures=True, width=26 * mm),
        Column(gettext("Price"), figures=True, width=28 * mm),
    ]
    rows = [
        [
            str(number),
            line.number,
            line.description,
            line.quantity,
            "–" if line.cost is None else display.money(line.cost),
            "–" if line.amount is None else display.money(line.amount),
        ]
        for number, line in enumerate(content.lines, start=1)
    ]
    return grid(columns, rows, width, 2.6)


def _address(content: PurchaseOrder) -> str:
    return "\n".join(filter(None, (content.shop.name, content.shop.address)))
