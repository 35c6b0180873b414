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
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    INK,
    LABEL,
    NOTE,
    RULE,
    SHADE,
    SMALL,
    bare,
    gap,
    para,
)
from shopflow.papers.tables import PLAIN, Column, grid, placed
from shopflow.papers.tagged_tables import pairs
from shopflow.texts import gettext, lazy

PADDING = {10: 3.2, 20: 2.0}
"""Space above and below a line, in points, by the most rows; more lines stand closer, so that most
quotes and invoices are one page."""

LEAST_PADDING = 1.4

MONEY_BOLD = ParagraphStyle("money-bold", CELL_BOLD, alignment=TA_RIGHT)
ROUNDING = lazy("Tax is calculated on the sum before tax and rounded once, half up.")
ROUNDING_BY_RATE = lazy(
    "Tax is calculated at each rate on the sum of its lines and rounded once, half up."
)


def rounding(tax: Tax) -> Flowable:
    """The note on the rounding of the tax."""
    return para(ROUNDING_BY_RATE if tax.parts else ROUNDING, NOTE)


def lines_title(lines: Sequence[MoneyLine]) -> str:
    """The heading of the lines."""
    return gettext("Work and parts") if _are_counted(lines) else gettext("Work")


def _are_counted(lines: Sequence[MoneyLine]) -> bool:
    """True where one has a quantity."""
    return any(line.quantity or line.unit_price is not None for line in lines)


def lines_table(
    lines: Sequence[MoneyLine],
    display: Display,
    width: float,
    *,
    heads: Sequence[str] = (),
    minutes: bool = False,
) -> Flowable:
    """The lines, numbered; of several heads, or with quantities, under each head and with its
    subtotal; with planned minutes where asked for. `heads` in words begin with their tags.
    """
    names = {name.partition(":")[0]: name for name in heads}
    groups = _by_head(lines)
    layout = _Layout(
        display,
        minutes=minutes,
        counted=_are_counted(lines),
        taxed=any(line.tax_mark for line in lines),
        grouped=len(groups) > 1 or "" in groups,
    )
    rows: list[list[Any]] = []
    bonds: list[tuple[int, int]] = []
    headings: list[int] = []
    number = 0
    for head, of_head in groups.items():
        first = len(rows)
        if layout.is_grouped and (len(groups) > 1 or head):
            headings.append(first)
            rows.append(layout.heading(names.get(head, head)))
        for line in of_head:
            number += not line.is_text
            rows.append(layout.row(str(number) if not line.is_text else "", line))
        if layout.is_grouped and len(groups) > 1:
            bonds.append((first, first + 1))
            if len(of_head) > 1 or not of_head[0].group:
                rows.append(layout.subtotal(head, of_head))
                bonds.append((len(rows) - 2, len(rows) - 1))
    padding = next((space for most, space in PADDING.items() if len(rows) <= most), LEAST_PADDING)
    table: Any = grid(layout.columns, rows, width, padding=padding)
    # A head's name stays with its first line, a subtotal with its last.
    bound: list[Any] = [("NOSPLIT", (0, above + 1), (-1, below + 1)) for above, below in bonds]
    shaded: list[Any] = [("BACKGROUND", (0, at + 1), (-1, at + 1), SHADE) for at in headings]
    table.setStyle(TableStyle([*bound, *shaded]))
    return table  # type: ignore[no-any-return]


class _Layout:
    """Columns of a table of lines, and its rows."""

    def __init__(
        self, display: Display, *, minutes: bool, counted: bool, taxed: bool, grouped: bool
    ) -> None:
        self.display, self.minutes, self.counted, self.taxed = display, minutes, counted, taxed
        self.is_grouped = grouped or counted

    @property
    def columns(self) -> list[Column]:
        """The columns there are."""
        head = [] if self.is_grouped else [Column(gettext("Head"), width=30 * mm)]
        title = gettext("Description") if self.is_grouped else gettext("Work")
        columns = [Column("", width=8 * mm), *head, Column(title, share=1)]
        if self.minutes:
            columns.append(Column(gettext("Minutes"), figures=True, width=18 * mm))
        if self.counted:
            columns.append(Column(gettext("Quantity"), figures=True, width=20 * mm))
            columns.append(Column(gettext("Unit price"), figures=True, width=25 * mm))
        if self.taxed:
            columns.append(Column(gettext("Tax"), figures=True, width=17 * mm))
        return [*columns, Column(gettext("Price"), figures=True, width=28 * mm)]

    def row(self, number: str, line: MoneyLine) -> list[Any]:
        """A line, under its number."""
        head = [] if self.is_grouped else [para(line.head, CELL)]
        cells: list[Any] = [
            number,
            *head,
            _words(line, self.display, CELL if self.is_grouped else CELL_BOLD),
        ]
        if self.minutes:
            cells.append(line.minutes or ("" if line.is_text else "–"))
        if self.counted:
            unit_price = line.unit_price
            cells += [line.quantity, "" if unit_price is None else self.display.money(unit_price)]
        if self.taxed:
            cells.append("" if line.is_included else line.tax_mark)
        priced = not (line.is_text or (line.is_included and not line.price))
        return [*cells, self.display.money(line.price) if priced else ""]

    def heading(self, head: str) -> list[Any]:
        """The name of a head above its lines."""
        return self._across(para(head or gettext("Whole job"), CELL_BOLD), "")

    def subtotal(self, head: str, lines: Sequence[MoneyLine]) -> list[Any]:
        """The sum of a head's lines."""
        total = self.display.money(sum((line.price for line in lines), Decimal(0)))
        name = head or gettext("whole job")
        title = para(gettext("Subtotal of {head}", head=name), CELL_BOLD)
        return self._across(title, para(total, MONEY_BOLD))

    def _across(self, title: Flowable, price: Any) -> list[Any]:
        empty = [""] * (len(self.columns) - (3 if self.is_grouped else 4))
        lead = ["", title] if self.is_grouped else ["", "", title]
        return [*lead, *empty, price]


def _by_head(lines: Sequence[MoneyLine]) -> dict[str, list[MoneyLine]]:
    """The lines of each head, heads in the order of their first line."""
    groups: dict[str, list[MoneyLine]] = {}
    for line in lines:
        groups.setdefault(line.group or line.head, []).append(line)
    return groups


def _words(line: MoneyLine, display: Display, style: ParagraphStyle) -> list[Any]:
    """Title of a line, and the small print below it."""
    words = [para(line.what, CELL if line.is_text else style)]
    if line.part_number:
        words.append(para(gettext("Part number {number}", number=line.part_number), SMALL))
    if line.detail:
        words.append(para(line.detail, SMALL))
    if line.waived:
        borne = gettext(
            "Warranty: {amount} borne by us, not charged.", amount=display.money(line.waived)
        )
        words.append(para(borne, SMALL))
    return words


def tax_rows(tax: Tax, display: Display) -> list[tuple[str, str]]:
    """The sum before tax, and the tax of each rate."""
    rows = [(gettext("Sum before tax"), display.money(tax.net))]
    for part in tax.by_rate:
        name = tax.name_of(part)
        if tax.parts:
            name = gettext("{tax} on {net}", tax=name, net=display.money(part.net))
        rows.append((name, display.money(part.tax)))
    return rows


def exemptions(tax: Tax) -> list[Flowable]:
    """Reasons why no tax is due on exempt lines."""
    reasons = dict.fromkeys(part.exemption for part in tax.by_rate if part.exemption)
    return [
        para(gettext("Exempt from tax: {exemption}", exemption=reason), NOTE) for reason in reasons
    ]


def sums(rows: Sequence[tuple[str, str]], last: tuple[str, str], width: float) -> Flowable:
    """Sums under each other at the right, the last one under a line and in bold."""
    cells: list[list[Any]] = [[bare(name, LABEL), value] for name, value in rows]
    cells.append([bare(last[0], CELL_BOLD), last[1]])
    tags = pairs([((row, 0), (row, 1)) for row in range(len(cells))])
    table = placed(cells, tags, colWidths=[70 * mm, 34 * mm], hAlign="RIGHT")
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
