"""A head valve by valve on paper, limits below, values outside them bold and marked."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents.placed import PlaceCell, ValveRow, ValveTable
from shopflow.papers.places import LIMITS, OUT, value_cell
from shopflow.papers.style import CELL, CELL_BOLD, STRONG, gap, heading, para
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext, ngettext

ACROSS = 8
"""Columns beside each other; more go into a table of their own below."""

LABEL_WIDTH = 30 * mm


def by_valve_story(table: ValveTable, width: float) -> list[Flowable]:
    """The table of a head's valves, in parts where it has many columns."""
    story = heading(gettext("Each valve as measured"), 60 * mm)
    if table.outside:
        words = ngettext(
            "{num} value is outside its limits, marked {mark}.",
            "{num} values are outside their limits, marked {mark}.",
            table.outside, mark=OUT,
        )  # fmt: skip
        story.append(para(words, STRONG))
    for index, part in enumerate(_parts(table)):
        story += [gap(6)] if index else []
        story.append(_grid(part, width))
    return story


def _parts(table: ValveTable) -> Iterator[ValveTable]:
    """Parts of about as many columns each."""
    count = len(table.columns)
    parts = -(-count // ACROSS)
    each = -(-count // parts)
    for start in range(0, count, each):
        rows, limits = (
            tuple(ValveRow(row.label, row.cells[start : start + each]) for row in some)
            for some in (table.rows, table.limits)
        )
        yield ValveTable(table.columns[start : start + each], rows, limits)


def _grid(table: ValveTable, width: float) -> Flowable:
    columns = [
        Column(gettext("Cylinder, valve"), width=LABEL_WIDTH),
        *(Column(_title(*column), figures=True, share=1) for column in table.columns),
    ]
    limits = [row for row in table.limits if any(row.cells)]
    rows = [
        *([para(row.label, CELL), *map(value_cell, row.cells)] for row in table.rows),
        *([para(row.label, CELL_BOLD), *map(_limit, row.cells)] for row in limits),
    ]
    return grid(columns, rows, width, 1.6)


def _title(kind: str, unit: str) -> str:
    return f"{kind}, {unit}" if unit else kind


def _limit(cell: PlaceCell | None) -> str | Flowable:
    return para(cell.value, LIMITS) if cell else ""
