"""The statement of a customer's account."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents import Display
from shopflow.documents.statement import OpenItem, Statement
from shopflow.papers.language import in_its_language
from shopflow.papers.money import addressed, sums
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import STRONG, gap, heading, paper_title, para, paragraphs
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext


@in_its_language
def statement(content: Statement) -> bytes:
    """The statement as PDF."""
    display = content.display
    title = gettext("Statement of account")
    sheet = Sheet(content.shop, display, title, display.moment(content.made_at), content.made_at)
    width = sheet.width
    story: list[Flowable] = [
        paper_title(title),
        addressed(content.customer, width * 0.6),
        gap(4),
        para(gettext("As of {day}", day=display.moment(content.made_at)), STRONG),
    ]
    if not content.entries:
        story.append(para(gettext("Nothing was invoiced or paid yet.")))
        return sheet.build(story)
    story += [
        *heading(gettext("Invoices and payments")),
        _entries(content, width),
        sums([], balance_line(content.balance, display), width),
    ]
    if content.open_items:
        story += [
            *heading(gettext("Unpaid invoices"), 30 * mm),
            _open_items(content.open_items, display, width),
            sums(
                [(name, display.money(amount)) for name, amount in content.ages],
                (
                    gettext("Unpaid"),
                    display.money(sum((item.open for item in content.open_items), Decimal(0))),
                ),
                width,
            ),
        ]
        if content.payment_to:
            story += [*heading(gettext("Pay to"), 20 * mm), *paragraphs([content.payment_to])]
    return sheet.build(story)


def balance_line(balance: Decimal, display: Display) -> tuple[str, str]:
    """The balance under its name: owed, in the customer's favor, or settled."""
    if balance > 0:
        return gettext("Balance to pay"), display.money(balance)
    if balance < 0:
        return gettext("In your favor"), display.money(-balance)
    return gettext("Balance"), display.money(balance)


def _entries(content: Statement, width: float) -> Flowable:
    display = content.display
    columns = [
        Column(gettext("Date"), width=28 * mm),
        Column(gettext("Entry"), share=1),
        Column(gettext("Job"), width=28 * mm),
        Column(gettext("Amount"), figures=True, width=30 * mm),
        Column(gettext("Balance"), figures=True, width=30 * mm),
    ]
    rows = [
        [
            display.day(entry.on),
            entry.what,
            entry.job,
            display.money(entry.amount),
            display.money(entry.balance),
        ]
        for entry in content.entries
    ]
    return grid(columns, rows, width, 2.2)


def _open_items(items: Sequence[OpenItem], display: Display, width: float) -> Flowable:
    columns = [
        Column(gettext("Invoice"), share=1),
        Column(gettext("Job"), width=28 * mm),
        Column(gettext("Due"), width=28 * mm),
        Column(gettext("Days overdue"), figures=True, width=26 * mm),
        Column(gettext("Unpaid"), figures=True, width=30 * mm),
    ]
    rows = [
        [
            item.number,
            item.job,
            display.day(item.due_on),
            str(item.days_overdue) if item.days_overdue > 0 else "–",
            display.money(item.open),
        ]
        for item in items
    ]
    return grid(columns, rows, width, 2.2)
