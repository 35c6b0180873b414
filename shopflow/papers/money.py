"""Parts that quotes and invoices share: lines with prices, tax, sums at the right."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, TableStyle

from shopflow.documents import Display, Party
from shopflow.documents.money import MoneyLine, Tax
from shopflow.papers.style import CELL, CELL_BOLD, INK, LABEL, RULE, SMALL, bare, gap, para
from shopflow.papers.tables import PLAIN, Column, grid, placed
from shopflow.papers.tagged_tables import pairs
from shopflow.texts import gettext, lazy

MOST_WIDE_ROWS = 10
"""More lines stand closer, so that most quotes and invoices are one page."""

MONEY_BOLD = ParagraphStyle("money-bold", CELL_BOLD, alignment=TA_RIGHT)
ROUNDING = lazy("Tax is calculated on the sum before tax and rounded once, half up.")


def lines_table(
    lines: Sequence[MoneyLine], display: Display, width: float, *, minutes: bool = False
) -> Flowable:
    """The lines, numbered, with a subtotal for each of several heads; with planned minutes where
    asked for.
    """
    columns = [
        Column("", width=8 * mm),
        Column(gettext("Head"), width=30 * mm),
        Column(gettext("Work"), share=1),
    ]
    if minutes:
        columns.append(Column(gettext("Minutes"), figures=True, width=18 * mm))
    columns.append(Column(gettext("Price"), figures=True, width=30 * mm))
    groups = _by_head(lines)
    rows: list[list[Any]] = []
    number = 0
    for head, of_head in groups.items():
        for line in of_head:
            number += 1
            rows.append([str(number), *_line(line, display, minutes=minutes)])
        if len(groups) > 1:
            total = display.money(sum((line.price for line in of_head), Decimal(0)))
            title = para(gettext("Subtotal of {head}", head=head), CELL_BOLD)
            empty = [""] if minutes else []
            rows.append(["", "", title, *empty, para(total, MONEY_BOLD)])
    return grid(columns, rows, width, padding=3.2 if len(rows) <= MOST_WIDE_ROWS else 2.0)


def _by_head(lines: Sequence[MoneyLine]) -> dict[str, list[MoneyLine]]:
    """The lines of each head, heads in the order of their first line."""
    groups: dict[str, list[MoneyLine]] = {}
    for line in lines:
        groups.setdefault(line.head, []).append(line)
    return groups


def _line(line: MoneyLine, display: Display, *, minutes: bool) -> list[Any]:
    words = [para(line.what, CELL_BOLD)]
    if line.detail:
        words.append(para(line.detail, SMALL))
    if line.waived:
        borne = gettext(
            "Warranty: {amount} borne by us, not charged.", amount=display.money(line.waived)
        )
        words.append(para(borne, SMALL))
    planned = [line.minutes or "–"] if minutes else []
    return [para(line.head, CELL), words, *planned, display.money(line.price)]


def tax_rows(tax: Tax, display: Display) -> list[tuple[str, str]]:
    """The sum before tax, and the tax."""
    return [(gettext("Sum before tax"), display.money(tax.net)), (tax.name, display.money(tax.tax))]


def sums(rows: Sequence[tuple[str, str]], last: tuple[str, str], width: float) -> Flowable:
    """Sums under each other at the right, the last one under a line and in bold."""
    cells: list[list[Any]] = [[bare(name, LABEL), value] for name, value in rows]
    cells.append([bare(last[0], CELL_BOLD), last[1]])
    tags = pairs([((row, 0), (row, 1)) for row in range(len(cells))])
    table = placed(cells, tags, colWidths=[58 * mm, 34 * mm], hAlign="RIGHT")
    table.setStyle(
        TableStyle(
            [
                *PLAIN,
                ("FONT", (1, -1), (1, -1), CELL_BOLD.fontName, CELL_BOLD.fontSize + 1.6),
                ("ALIGN", (1, 0), (1, -1), "RIGHT"),
                ("LINEBELOW", (0, 0), (-1, -2), 0.4, RULE),
                ("LINEABOVE", (0, -1), (-1, -1), 1.1, INK),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return KeepTogether([gap(6), table])


def addressed(customer: Party, width: float) -> Flowable:
    """Whom the paper goes to, as on an envelope."""
    words = [gap(3), para(gettext("To"), SMALL), para(customer.name, CELL_BOLD)]
    words += [para(line, CELL) for line in customer.address.splitlines() if line.strip()]
    table = placed([[word] for word in words], colWidths=[width], hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                *PLAIN,
                *((f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "TOP", "BOTTOM")),
            ]
        )
    )
    return table
