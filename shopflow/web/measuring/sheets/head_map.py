"""The map of a head on its sheet: each place coloured by how its measurements stand."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from shopflow.charts.head_map import HeadMap, Spot, State
from shopflow.models import HeadPlace
from shopflow.models.places import SIDES
from shopflow.services.measuring.sheet_cells import Cell, Sheet, Table
from shopflow.texts import gettext
from shopflow.web.drawing import head_drawn

ON_THE_MAP = ("valves", "cylinders")
WORST_FIRST: tuple[State, ...] = ("out", "doubtful", "missing", "in", "no limit")


def drawn(sheet: Sheet) -> Markup | None:
    """The map as a drawing; none where the sheet has no valves or cylinders."""
    spots = [
        spot for table in sheet.tables if table.code in ON_THE_MAP for spot in _spots(sheet, table)
    ]
    if not spots:
        return None
    cylinders = [str(number) for number in sheet.plan.cylinders]
    plan = HeadMap(gettext("Map of the head"), cylinders, spots)
    return head_drawn(plan, "head-map")


def _spots(sheet: Sheet, table: Table) -> Iterator[Spot]:
    cylinders = sheet.plan.cylinders
    for place, cells in table.rows:
        if place.cylinder is not None:
            valves = len(sheet.plan.valves[place.side]) if place.side in SIDES else 1
            state, words = _standing(table, cells)
            yield Spot(
                _label(place), cylinders.index(place.cylinder), place.side, place.valve or 1,
                valves, state, words,
            )  # fmt: skip


def _label(place: HeadPlace) -> str:
    return place.label[:1].upper() + place.label[1:]


def _standing(table: Table, cells: tuple[Cell, ...]) -> tuple[State, str]:
    """State of a place: the worst of its kinds, each as it was measured last."""
    states: list[State] = []
    words: list[str] = []
    step = len(table.whens)
    for start in range(0, len(cells), step):
        # After the work goes before what was found before it.
        measured = [cell for cell in cells[start : start + step] if cell.row is not None]
        states.append(_state(measured[-1]) if measured else "missing")
        if measured and measured[-1].row is not None:
            words.append(f"{measured[-1].kind.name} {measured[-1].row.value}")
    worst = next(state for state in WORST_FIRST if state in states)
    return worst, ", ".join(words)


def _state(cell: Cell) -> State:
    states: dict[str, State] = {
        "in": "in", "out": "out", "doubtful": "doubtful", "no limit": "no limit",
    }  # fmt: skip
    return states.get(cell.state, "missing")
