"""Engine types from CSV, each with the layout of its heads."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import EngineType
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports.planning import (
    Action,
    Plan,
    already_there,
    checked,
    faults_at,
    listed,
    sorted_faults,
)
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.registry import engine_types, head_layouts
from shopflow.texts import gettext, lazy

COLUMNS = (
    Column("builder", "", needed=True),
    Column("family", "", needed=True),
    Column("other names", lazy("Separated by commas.")),
    Column("displacement", "", dimension="volume"),
    Column("bore", "", dimension="length"),
    Column("stroke", "", dimension="length"),
    Column("engine cylinders", "", needed=True),
    Column("valves per cylinder", lazy("Empty means 2.")),
    Column("cylinders per head", lazy("With it the four columns after it are the head layout.")),
    Column("intake valves", lazy("Names in one cylinder, or 1. For example front, rear.")),
    Column("exhaust valves", lazy("As the intake valves.")),
    Column("intake ports", lazy("Cylinders of a head by port, as 1, 2+3, 4; empty for one each.")),
    Column("exhaust ports", lazy("As the intake ports.")),
    Column("cooling", lazy("water or air; empty means water.")),
    Column("fuel", ""),
    Column("notes", ""),
)
EXAMPLES = (
    {
        "builder": "Ironside",
        "family": "342",
        "displacement": "342 in3",
        "engine cylinders": "8",
        "valves per cylinder": "2",
        "cylinders per head": "4",
        "intake valves": "1",
        "exhaust valves": "1",
    },
)
FIELDS = {name: name.replace("_", " ") for name in engine_types.SPECIFICATION} | {
    "cylinders": "engine cylinders"
}
LAYOUT = {
    name: name.replace("_", " ")
    for name in ("cylinders_per_head", "intake_valves", "exhaust_valves", "intake_ports",
                 "exhaust_ports")
}  # fmt: skip
NAMES = "other names"


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of engine types."""
    sheet.refuse_other_headings()
    recorded = {_name(row.builder, row.family): row for row in engine_types.list_all(db)}
    wanted: list[tuple[EngineType | None, dict[str, Any], dict[str, Any]]] = []
    actions = []
    first_rows: dict[tuple[str, str], int] = {}
    for record in sheet.records:
        row = _row(sheet, record, recorded, first_rows)
        if row is not None:
            actions.append(_action(record, *row))
            wanted.append(row)

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by, "imported"):
            for engine_type, values, layout in wanted:
                _write(db, by, engine_type, values, layout)

    return Plan(actions, sorted_faults(sheet), write)


def _row(
    sheet: Sheet,
    record: Record,
    recorded: dict[tuple[str, str], EngineType],
    first_rows: dict[tuple[str, str], int],
) -> tuple[EngineType | None, dict[str, Any], dict[str, Any]] | None:
    """The engine type on record, what is to be filled of it, and its layout where it has none."""
    before = len(sheet.faults)
    quantities = {name: sheet.quantity(record, name) for name in ("displacement", "bore", "stroke")
                  if record.get(name)}  # fmt: skip
    values = checked(sheet, record, engine_types.SPECIFICATION, FIELDS, quantities)
    name = _name(record.get("builder"), record.get("family"))
    first = first_rows.setdefault(name, record.row)
    if first != record.row:
        sheet.fault(
            record.row, "family", gettext("the same engine type as in row {first}", first=first)
        )
    layout = _layout(sheet, record, values)
    if len(sheet.faults) > before or not values:
        return None
    if record.get(NAMES):
        values["aliases"] = record.get(NAMES)
    engine_type = recorded.get(name)
    if engine_type is None:
        return None, values, layout
    if engine_type.cylinders_per_head is not None:
        layout = {}
    return engine_type, _missing(engine_type, values), layout


def _layout(sheet: Sheet, record: Record, values: dict[str, Any]) -> dict[str, Any]:
    """The layout a row states, checked; empty where it states none."""
    if not record.get("cylinders per head"):
        return {}
    layout = {name: record.get(column) for name, column in LAYOUT.items()}
    with faults_at(sheet, record, LAYOUT):
        head_layouts.read(EngineType(cylinders=values.get("cylinders") or 0), layout)
    return layout


def _missing(engine_type: EngineType, values: dict[str, Any]) -> dict[str, Any]:
    """The values that fill a field left empty on record."""
    filled = {
        name: value for name, value in values.items()
        if name != "aliases" and getattr(engine_type, name) in (None, "") and value
    }  # fmt: skip
    names = {alias.name.casefold() for alias in engine_type.aliases}
    given = [name.strip() for name in values.get("aliases", "").split(",")]
    new = [name for name in given if name and name.casefold() not in names]
    if new:
        filled["aliases"] = "\n".join([*(alias.name for alias in engine_type.aliases), *new])
    return filled


def _action(
    record: Record,
    engine_type: EngineType | None,
    values: dict[str, Any],
    layout: dict[str, Any],
) -> Action:
    title = f"{record.get('builder')} {record.get('family')}"
    if engine_type is None:
        words = gettext("makes engine type {title}", title=title)
        return Action(record.row, gettext("new engine type"), words)
    news = [FIELDS.get(name, NAMES) for name in values]
    news += [gettext("head layout")] if layout else []
    if not news:
        words = gettext("engine type {title} is on record", title=title)
        return Action(record.row, already_there(), words)
    words = gettext("adds {news} to engine type {title}", news=listed(news), title=title)
    return Action(record.row, gettext("added to an engine type"), words)


def _write(
    db: Session,
    by: Actor,
    engine_type: EngineType | None,
    values: dict[str, Any],
    layout: dict[str, Any],
) -> None:
    if engine_type is None:
        engine_type = engine_types.create(db, by, values)
        db.flush()
    elif values:
        engine_types.change(db, by, engine_type, values)
    if layout:
        head_layouts.set_layout(db, by, engine_type, layout)


def _name(builder: str, family: str) -> tuple[str, str]:
    return builder.casefold(), family.casefold()
