"""A sheet's measurements as documents print them: one table a kind, cylinders across."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.documents.placed import PlaceCell, PlaceRow, PlaceTable
from shopflow.models import HeadPlace, HeadPlan
from shopflow.models.places import OF_A_PORT
from shopflow.services.measuring.sheets import Cell, Sheet, number_in
from shopflow.units import pretty


def place_tables(sheet: Sheet) -> tuple[PlaceTable, ...]:
    """A table for each kind that belongs to places of a head, of the head as a whole too.

    Of a value before and one after the work the one before is printed.
    """
    by_kind: dict[int, list[Cell]] = {}
    for cell in sheet.cells.values():
        by_kind.setdefault(cell.kind.id, []).append(cell)
    return tuple(_table(cells, sheet.plan) for cells in by_kind.values())


def _table(cells: Sequence[Cell], plan: HeadPlan) -> PlaceTable:
    rows: dict[str, dict[str, Cell]] = {}
    columns: dict[str, None] = {}
    for cell in cells:
        row, column = _row(cell.place, plan), _column(cell.place, plan)
        columns.setdefault(column)
        held = rows.setdefault(row, {})
        if column not in held or held[column].row is None:
            held[column] = cell
    first = cells[0]
    return PlaceTable(
        kind=first.kind.name,
        unit=pretty(first.unit),
        columns=tuple(columns),
        rows=tuple(_printed(name, held, tuple(columns)) for name, held in rows.items()),
    )


def _printed(label: str, held: dict[str, Cell], columns: Sequence[str]) -> PlaceRow:
    limits = list(dict.fromkeys(cell.limits for cell in held.values() if cell.limits))
    cells = (held.get(column) for column in columns)
    return PlaceRow(label, "; ".join(limits), tuple(map(_cell, cells)))


def _cell(cell: Cell | None) -> PlaceCell | None:
    if cell is None:
        return None
    value = number_in(cell.row.value, cell.unit, cell.decimals) if cell.row else ""
    last = number_in(cell.last, cell.unit, cell.decimals)
    return PlaceCell(value, last, cell.state == "out")


def _row(place: HeadPlace, plan: HeadPlan) -> str:
    """A place's row: its side, with the name of its valve where a side has several."""
    return " ".join(_row_words(place, plan)).capitalize()


def _row_words(place: HeadPlace, plan: HeadPlan) -> Iterator[str]:
    names = plan.valves.get(place.side, ())
    if place.valve is not None and len(names) > 1:
        yield names[place.valve - 1]
    if place.side:
        yield place.side


def _column(place: HeadPlace, plan: HeadPlan) -> str:
    """A place's column: its cylinder, or those that share its port; empty for the whole head."""
    shared = plan.ports.get(place.side) if place.kind in OF_A_PORT else None
    for cylinders in shared or ():
        if place.cylinder in cylinders:
            return ", ".join(map(str, cylinders))
    return str(place.cylinder or "")
