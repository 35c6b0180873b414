"""A head valve by valve as the assembler gets it: one row a valve, one column a measurement."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sqlalchemy.orm import Session

from shopflow.documents.placed import PlaceCell, ValveRow, ValveTable
from shopflow.models import HeadPlace, HeadPlan, MeasurementKind, PlaceKind, Visit, When
from shopflow.models.places import OF_A_VALVE, SIDES
from shopflow.services.measuring import sheets
from shopflow.services.measuring.place_tables import place_cell, place_row
from shopflow.services.measuring.sheet_cells import Cell, Sheet
from shopflow.services.measuring.sheets import Units
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext
from shopflow.units import pretty

KINDS = (
    "valve head diameter", "stem diameter", "stem diameter top", "valve margin", "contact width",
    "recession", "stem height", "valve depth", "guide clearance", "seat angle", "seat width",
    "seat run-out", "throat diameter", "installed height", "seat load", "chamber volume",
    "plug thread",
)  # fmt: skip
"""Codes of what the assembler wants of each valve, in the order of the columns."""

TIMES = (When.AFTER,)
"""Values from before the work say nothing of the head that leaves."""


def by_valve(db: Session, visit: Visit) -> ValveTable | None:
    """A head's valves as measured after the work; none where none is, or its layout unknown."""
    measured = {row.kind.code for row in visit.measurements if row.when in TIMES}
    kinds = [
        kind for code in KINDS for kind in built_in_kinds.measurement_kinds(db)
        if kind.code == code and code in measured and _is_placed(kind)
    ]  # fmt: skip
    if visit.head.plan is None or not kinds:
        return None
    units = Units(unit_system(get_shop(db)))
    sheet = sheets.sheet(db, visit, None, kinds, units, TIMES)
    cells = {(cell.kind.id, cell.place.key): cell for cell in sheet.cells.values()}
    shown = [kind for kind in kinds if any(_of(cells, kind, place) for place in _valves(sheet))]
    if not shown:
        return None
    return ValveTable(
        columns=tuple((kind.name, pretty(_first(cells, kind).unit)) for kind in shown),
        rows=tuple(_rows(sheet.plan, shown, cells)),
        limits=tuple(_limits(shown, cells)),
    )


def is_in_it(visit: Visit, code: str) -> bool:
    """True where the table by valve has measurements of this kind."""
    return visit.head.plan is not None and code in KINDS


Cells = dict[tuple[int, tuple[int | None, str, int | None]], Cell]


def _is_placed(kind: MeasurementKind) -> bool:
    return kind.place_kind in OF_A_VALVE or kind.place_kind is PlaceKind.CYLINDER


def _valves(sheet: Sheet) -> list[HeadPlace]:
    return sheet.plan.places(PlaceKind.VALVE)


def _of(cells: Cells, kind: MeasurementKind, valve: HeadPlace) -> Cell | None:
    """A valve's cell of a kind, where it is measured; of a chamber that of its cylinder."""
    is_chamber = kind.place_kind is PlaceKind.CYLINDER
    cell = cells.get((kind.id, (valve.cylinder, "", None) if is_chamber else valve.key))
    return cell if cell is not None and cell.row is not None else None


def _first(cells: Cells, kind: MeasurementKind) -> Cell:
    return next(cell for (key, _), cell in cells.items() if key == kind.id)


def _rows(plan: HeadPlan, kinds: Sequence[MeasurementKind], cells: Cells) -> Iterator[ValveRow]:
    """A row for each valve of which anything is measured, its chamber beside the first."""
    told: set[int | None] = set()
    for valve in plan.places(PlaceKind.VALVE):
        is_first = valve.cylinder not in told
        told.add(valve.cylinder)
        label = f"{valve.cylinder} {place_row(valve, plan).lower()}"
        row = tuple(_cell(cells, kind, valve, is_first=is_first) for kind in kinds)
        if any(cell.value for cell in row if cell):
            yield ValveRow(label, row)


def _cell(
    cells: Cells, kind: MeasurementKind, valve: HeadPlace, *, is_first: bool
) -> PlaceCell | None:
    if kind.place_kind is PlaceKind.CYLINDER and not is_first:
        return None
    return place_cell(_of(cells, kind, valve)) or PlaceCell()


def _limits(kinds: Sequence[MeasurementKind], cells: Cells) -> Iterator[ValveRow]:
    """A row of limits for each side; one for both where they are the same."""
    sides = {side: tuple(_limit(kind, cells, side) for kind in kinds) for side in SIDES}
    if not any(cell for row in sides.values() for cell in row):
        return
    if sides["intake"] == sides["exhaust"]:
        yield ValveRow(gettext("Limits"), sides["intake"])
        return
    yield ValveRow(gettext("Limits, intake"), sides["intake"])
    yield ValveRow(gettext("Limits, exhaust"), sides["exhaust"])


def _limit(kind: MeasurementKind, cells: Cells, side: str) -> PlaceCell | None:
    """Limits of a kind on a side; of a chamber those that hold for both."""
    wanted = "" if kind.place_kind is PlaceKind.CYLINDER else side
    limits = [
        cell.limits for (key, place), cell in cells.items()
        if key == kind.id and place[1] == wanted and cell.row is not None and cell.limits
    ]  # fmt: skip
    return PlaceCell("; ".join(dict.fromkeys(limits))) if limits else None
