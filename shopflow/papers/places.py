"""Measurements by place on paper: values with their limits, or blanks to fill by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from shopflow.documents.placed import PlaceCell, PlaceRow, PlaceTable, SectionTable
from shopflow.papers.style import CELL, CELL_BOLD, SMALL, gap, para, subheading
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext, ngettext

ACROSS = 8
"""Cylinders beside each other; more go into a table of their own below."""

KINDS_ACROSS = 6
"""Kinds beside each other where a head has one cylinder."""

BLANKS_ACROSS = 4
"""The same, of boxes to fill by hand."""

BOX_HEIGHT, TALL_BOX_HEIGHT = 8 * mm, 10 * mm

OUT = "▲"
"""Mark of a value outside its limits, beside bold type: never colour alone."""

LABEL_WIDTH, LIMITS_WIDTH = 27 * mm, 36 * mm
OUTSIDE = ParagraphStyle("outside", CELL_BOLD, alignment=TA_RIGHT)
FIGURE = ParagraphStyle("figure", CELL, alignment=TA_RIGHT)
LIMITS = ParagraphStyle("limits of a value", SMALL, alignment=TA_RIGHT)


def values_tables(tables: Iterable[PlaceTable], width: float) -> list[Flowable]:
    """Tables of values in their order; those of one cylinder with the same rows as one table."""
    return [
        part
        for alike in _alike(tables, KINDS_ACROSS)
        for part in (values_table if len(alike) == 1 else _values_beside)(*alike, width=width)
    ]


def blanks_tables(tables: Iterable[PlaceTable], width: float) -> list[Flowable]:
    """Boxes to fill, as `values_tables` places values."""
    return [
        part
        for alike in _alike(tables, BLANKS_ACROSS)
        for part in (blanks_table if len(alike) == 1 else _blanks_beside)(*alike, width=width)
    ]


def _alike(tables: Iterable[PlaceTable], across: int) -> Iterator[Sequence[PlaceTable]]:
    """Each table by itself; those of one cylinder with the same rows together."""
    for (columns, _), alike in groupby(tables, _shape):
        together, count = list(alike), across if len(columns) == 1 else 1
        for start in range(0, len(together), count):
            yield together[start : start + count]


def _shape(table: PlaceTable) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return table.columns, tuple(row.label for row in table.rows)


def section_tables(tables: Iterable[SectionTable], width: float) -> list[Flowable]:
    """Sections of ports, each time of a port a table: distances down, kinds across."""
    return [part for each in tables for part in _sections(each, width)]


def _sections(sections: SectionTable, width: float) -> list[Flowable]:
    columns = [
        Column(gettext("Distance, {unit}", unit=sections.distance), figures=True, share=1),
        *(
            Column(f"{kind}, {unit}", figures=True, share=1)
            for kind, unit in sections.table.columns
        ),
    ]
    rows = [[row.label, *(value_cell(cell) or "–" for cell in row.cells)] for row in
            sections.table.rows]  # fmt: skip
    title = subheading(sections.title)
    return [gap(5), KeepTogether([title, gap(1), grid(columns, rows, width, 1.8)])]


def _values_beside(*tables: PlaceTable, width: float) -> list[Flowable]:
    """Kinds of one cylinder across, each value over its limits."""
    columns = [Column(_named(table), figures=True, share=1) for table in tables]
    return [gap(6), grid(*_across(tables, columns, _over_limits), width, 1.8)]


def _blanks_beside(*tables: PlaceTable, width: float) -> list[Flowable]:
    """Kinds of one cylinder across, each box with its limits and the last known value."""
    columns = [Column(_named(table), share=1, boxed=True) for table in tables]
    grid_parts = _across(tables, columns, _to_fill)
    return [gap(6), grid(*grid_parts, width, 1.8, row_height=TALL_BOX_HEIGHT)]


def _across(
    tables: Sequence[PlaceTable], columns: list[Column], cell: Callable[[PlaceRow], list[Flowable]]
) -> tuple[list[Column], list[list[Any]]]:
    """Columns and rows of a grid with a column for each table."""
    first = Column(_cylinder(tables[0].columns[0]), width=LABEL_WIDTH)
    each_row = zip(*(table.rows for table in tables), strict=True)
    rows = [[alike[0].label, *map(cell, alike)] for alike in each_row]
    return [first, *columns], rows


def _to_fill(row: PlaceRow) -> list[Flowable]:
    blank = _blank(row.cells[0])
    return [*([para(row.limits, SMALL)] if row.limits else []), *([blank] if blank else [])]


def _over_limits(row: PlaceRow) -> list[Flowable]:
    cell = row.cells[0]
    is_outside = cell is not None and cell.is_outside
    text = cell.value or "–" if cell else ""
    value = para(f"{OUT} {text}", OUTSIDE) if is_outside else para(text, FIGURE)
    return [value, para(row.limits, LIMITS)] if row.limits else [value]


def values_table(table: PlaceTable, *, width: float) -> list[Flowable]:
    """The values of one kind, cylinders across; those outside their limits bold and marked."""
    verdict = gettext("within limits")
    if table.outside:
        verdict = ngettext(
            "{num} of {count} outside its limits, marked {mark}",
            "{num} of {count} outside their limits, marked {mark}",
            table.outside, count=table.measured, mark=OUT,
        )  # fmt: skip
    elif not _has_limits(table):
        verdict = gettext("no limits given")
    title = subheading(f"{_named(table)}: {verdict}")
    parts = [_values(part, width) for part in _parts(table)]
    return [gap(5), KeepTogether([title, gap(1), parts[0]]), *parts[1:]]


def blanks_table(table: PlaceTable, *, width: float) -> list[Flowable]:
    """Boxes for the values of one kind, cylinders across, the last known value small in each."""
    title = subheading(_named(table), CELL_BOLD)
    parts = [_blanks(part, width) for part in _parts(table)]
    return [gap(4), KeepTogether([title, parts[0]]), *parts[1:]]


def _named(table: PlaceTable) -> str:
    """Name of what was measured, with its unit where it has one."""
    return f"{table.kind}, {table.unit}" if table.unit else table.kind


def _parts(table: PlaceTable) -> Iterator[PlaceTable]:
    """The table, or parts of as many cylinders as stand beside each other."""
    for start in range(0, len(table.columns), ACROSS):
        end = start + ACROSS
        rows = tuple(PlaceRow(row.label, row.limits, row.cells[start:end]) for row in table.rows)
        yield PlaceTable(table.kind, table.unit, table.columns[start:end], rows)


def _values(table: PlaceTable, width: float) -> Flowable:
    limited = [Column(gettext("Limits"), width=LIMITS_WIDTH)] if _has_limits(table) else []
    columns = [
        Column("", width=LABEL_WIDTH),
        *limited,
        *(Column(_cylinder(name), figures=True, share=1) for name in table.columns),
    ]
    rows = [
        [row.label, *[row.limits or "–" for _ in limited], *map(value_cell, row.cells)]
        for row in table.rows
    ]
    return grid(columns, rows, width, 1.8)


def _has_limits(table: PlaceTable) -> bool:
    return any(row.limits for row in table.rows)


def _cylinder(name: str) -> str:
    return gettext("Cyl. {name}", name=name) if name else gettext("Value")


def value_cell(cell: PlaceCell | None) -> str | Flowable:
    """A value as it is printed: outside its limits bold and marked, a dash where not measured."""
    if cell is None:
        return ""
    if cell.is_outside:
        return para(f"{OUT} {cell.value}", OUTSIDE)
    return cell.value or "–"


def _blanks(table: PlaceTable, width: float) -> Flowable:
    columns = [
        Column("", width=LABEL_WIDTH),
        Column(gettext("Limits"), width=LIMITS_WIDTH),
        *(Column(_cylinder(name), share=1, boxed=True) for name in table.columns),
    ]
    rows = [
        [
            para(row.label, CELL),
            para(row.limits or "–", CELL),
            *(_blank(cell) or "" for cell in row.cells),
        ]
        for row in table.rows
    ]
    return grid(columns, rows, width, 1.8, row_height=BOX_HEIGHT)


def _blank(cell: PlaceCell | None) -> Flowable | None:
    if cell is None:
        return para("×", SMALL)
    if cell.value:
        return para(cell.value, CELL_BOLD)
    return para(gettext("was {last}", last=cell.last), SMALL) if cell.last else None
