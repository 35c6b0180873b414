"""A sheet as its page holds it: what was typed, what each cell held before, what is wrong."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from shopflow.errors import ConflictError, ValidationError
from shopflow.models import Operation, Visit
from shopflow.services.actor import Actor
from shopflow.services.measuring import sheets
from shopflow.services.measuring.sheet_cells import Cell
from shopflow.services.measuring.sheets import Units
from shopflow.web.context import system
from shopflow.web.db import db

CELL = "cell-"
SEEN = "seen-"
UNIT = "unit-"
MOST_CELLS = 2000


@dataclass
class Filled:
    """Outcome of the cells sent: as they are now, and the faults of the others."""

    cells: dict[str, Cell] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    now: dict[str, str] = field(default_factory=dict)
    """Text that someone else put into a cell meanwhile, by its name."""

    count: int = 0
    """Cells that were recorded."""


def units(sent: Mapping[str, str] | None = None) -> Units:
    """The shop's units, and those of the columns as the page that was sent has them."""
    chosen = {
        int(name.removeprefix(UNIT)): unit
        for name, unit in (sent or {}).items()
        if re.fullmatch(rf"{UNIT}[0-9]{{1,9}}", name)
    }
    return Units(system(), chosen)


def fill(visit: Visit, step: Operation | None, by: Actor, sent: Mapping[str, str]) -> Filled:
    """Record every cell that was changed."""
    filled, columns = Filled(), units(sent)
    names = [name for name in sent if name.startswith(CELL)][:MOST_CELLS]
    for name in names:
        typed, seen = sent[name], sent.get(SEEN + name, "")
        if typed.strip() == seen.strip():
            continue
        try:
            for cell in sheets.fill(db(), by, visit, step, name, typed, seen, columns):
                filled.cells[cell.name] = cell
            filled.count += 1
        except ValidationError as error:
            filled.faults[name] = "; ".join(fault.message for fault in error.faults)
        except ConflictError as error:
            filled.faults[name] = str(error)
            filled.now[name] = sheets.text_now(db(), visit, step, name, columns)
    return filled
