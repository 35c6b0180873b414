"""A sheet's measurements as documents print them: one table a kind, cylinders across."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sqlalchemy.orm import Session

from shopflow.documents.placed import PlaceCell, PlaceRow, PlaceTable
from shopflow.models import (
    HeadPlace,
    HeadPlan,
    Measurement,
    PlaceKind,
    Verdict,
    Visit,
    When,
)
from shopflow.models.places import OF_A_PORT
from shopflow.services.measuring.sheet_cells import Cell, Sheet, number_in
from shopflow.services.measuring.sheets import Units
from shopflow.services.measuring.sheets import sheet as sheet_of
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import translated
from shopflow.units import pretty


def placed(
    db: Session, visit: Visit, measured: Sequence[Measurement], whens: Sequence[When]
) -> tuple[tuple[PlaceTable, ...], list[Measurement]]:
    """Tables of measurements that have a place, and those that belong to none.

    Of two values at a place the one of the first of `whens` is printed. What is outside its limits
    comes first.
    """
    codes = {row.kind.code for row in measured}
    if visit.head.plan is None or not codes:
        return (), sorted(measured, key=_is_inside)
    kinds = [kind for kind in built_in_kinds.measurement_kinds(db) if kind.code in codes]
    units = Units(unit_system(get_shop(db)))
    sheet = sheet_of(db, visit, None, kinds, units, whens, measured)
    of_head = [row for row in measured if row.kind.place_kind is PlaceKind.HEAD]
    others = [*of_head, *(row for row in sheet.unplaced if row not in of_head)]
    tables = (table for table in place_tables(sheet) if table.columns != ("",) and table.measured)
    return tuple(sorted(tables, key=lambda table: not table.outside)), sorted(
        others, key=_is_inside
    )


def _is_inside(row: Measurement) -> bool:
    return row.verdict is not Verdict.OUTSIDE


def place_tables(sheet: Sheet) -> tuple[PlaceTable, ...]:
    """A table for each kind that belongs to places of a head, of the head as a whole too.

    Of several values at a place the first in the sheet's order is printed.
    """
    by_kind: dict[int, list[Cell]] = {}
    for cell in sheet.cells.values():
        by_kind.setdefault(cell.kind.id, []).append(cell)
    return tuple(_table(cells, sheet.plan) for cells in by_kind.values())


def _table(cells: Sequence[Cell], plan: HeadPlan) -> PlaceTable:
    rows: dict[str, dict[str, Cell]] = {}
    columns: dict[str, None] = {}
    for cell in cells:
        row, column = place_row(cell.place, plan), _column(cell.place, plan)
        columns.setdefault(column)
        content = rows.setdefault(row, {})
        if column not in content or content[column].row is None:
            content[column] = cell
    first = cells[0]
    return PlaceTable(
        kind=first.kind.name,
        unit=pretty(first.unit),
        columns=tuple(columns),
        rows=tuple(
            _printed(name, cells_of_row, tuple(columns)) for name, cells_of_row in rows.items()
        ),
    )


def _printed(label: str, cells_of_row: dict[str, Cell], columns: Sequence[str]) -> PlaceRow:
    limits = list(dict.fromkeys(cell.limits for cell in cells_of_row.values() if cell.limits))
    cells = (cells_of_row.get(column) for column in columns)
    return PlaceRow(label, "; ".join(limits), tuple(map(place_cell, cells)))


def place_cell(cell: Cell | None) -> PlaceCell | None:
    """A cell as it is printed; none where the head has no such place."""
    if cell is None:
        return None
    value = number_in(cell.row.value, cell.unit, cell.decimals) if cell.row else ""
    last = number_in(cell.last, cell.unit, cell.decimals)
    return PlaceCell(value, last, cell.state == "out")


def place_row(place: HeadPlace, plan: HeadPlan) -> str:
    """A place's row: its side, with the name of its valve where a side has several."""
    return " ".join(_row_words(place, plan)).capitalize()


def _row_words(place: HeadPlace, plan: HeadPlan) -> Iterator[str]:
    names = plan.valves.get(place.side, ())
    if place.valve is not None and len(names) > 1:
        yield names[place.valve - 1]
    if place.side:
        yield translated(place.side)


def _column(place: HeadPlace, plan: HeadPlan) -> str:
    """A place's column: its cylinder, or those that share its port; empty for the whole head."""
    shared = plan.ports.get(place.side) if place.kind in OF_A_PORT else None
    for cylinders in shared or ():
        if place.cylinder in cylinders:
            return ", ".join(map(str, cylinders))
    return str(place.cylinder or "")
