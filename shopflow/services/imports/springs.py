"""Springs from CSV: one row a load at a height; of a head on a job, or usual on an engine type."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import EngineType, Spring, Visit
from shopflow.models.places import SIDES
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.imports import visits
from shopflow.services.imports.file_heads import Owner
from shopflow.services.imports.planning import (
    Action,
    Plan,
    already_there,
    checked,
    faults_at_rows,
    sorted_faults,
    with_the_rest,
)
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.imports.visits import Visits, refuse_difference
from shopflow.services.springs import records
from shopflow.texts import gettext, lazy, translated

JOB = replace(
    visits.JOB,
    hint=lazy("Number of the job. Empty for the springs usual on an engine type."),
    needed=False,
)
SIDE = Column("side", lazy("intake or exhaust."), needed=True)
COLUMNS = (
    JOB,
    *visits.COLUMNS,
    SIDE,
    Column("spring", lazy("Name of the spring. Its rows repeat what holds for it.")),
    Column("coil bind height", "", dimension="length"),
    Column("wanted height", lazy("Installed height to shim to."), dimension="length"),
    Column("least bind room", "", dimension="length"),
    Column("least retainer room", "", dimension="length"),
    Column("valve lift", lazy("Or lobe lift and rocker ratio."), dimension="length"),
    Column("lobe lift", "", dimension="length"),
    Column("rocker ratio", ""),
    Column("lash", "", dimension="length"),
    Column("notes", ""),
    Column("height", "", dimension="length"),
    Column("load", "", dimension="force"),
    Column("measured", lazy("yes where it was measured on a tester.")),
)
EXAMPLES = tuple(
    {
        **visits.EXAMPLE,
        "side": "intake",
        "spring": "single with damper",
        "wanted height": "1.800 in",
        "height": height,
        "load": load,
    }
    for height, load in (("1.800 in", "105 lbf"), ("1.300 in", "280 lbf"))
)
FIELDS = {name: name.replace("_", " ") for name in records.FIELDS} | {"name": "spring"}
POINT = {name: name for name in records.POINT}
LENGTHS = ("coil_bind_height", "wanted_height", "least_bind_room", "least_retainer_room",
           "valve_lift", "lobe_lift", "lash")  # fmt: skip
YES = ("yes", "y", "true", "1")

_SIDE: fields.Specification = {"side": fields.among(*SIDES)}


@dataclass(eq=False)
class _Springs:
    """The springs of one side that rows are of."""

    owner: Owner
    side: str
    first: Record
    values: dict[str, Any]
    rows: list[Record] = field(default_factory=list)
    points: list[dict[str, Any]] = field(default_factory=list)
    """The loads by height, and the row of each."""


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of springs."""
    sheet.refuse_other_headings()
    recorded = Visits(db, sheet)
    wanted: dict[tuple[Owner, str], _Springs] = {}
    for record in sheet.records:
        _take(sheet, recorded, wanted, record)
    springs = [row for row in wanted.values() if _is_whole(sheet, row)]
    firsts = [_action(db, each) for each in springs]
    changing = [each for each, first in zip(springs, firsts, strict=True)
                if first.kind != already_there()]  # fmt: skip
    actions = [
        action
        for each, first in zip(springs, firsts, strict=True)
        for action in with_the_rest(first, each.rows)
    ]

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by, "imported"):
            recorded.make(db, by)
            for row in changing:
                records.save(db, by, row.owner.record, row.side, row.values, row.points)

    return Plan(actions, sorted_faults(sheet), write)


def _take(
    sheet: Sheet, recorded: Visits, wanted: dict[tuple[Owner, str], _Springs], record: Record
) -> None:
    """Add a row's point to its springs; what holds for them must be as in their first row."""
    typed = {"side": record.get("side").lower()}
    side = checked(sheet, record, _SIDE, {"side": "side"}, typed).get("side")
    owner = recorded.owner(record)
    if side is None or owner is None:
        return
    values = {name: record.get(column) for name, column in FIELDS.items() if record.get(column)}
    values |= {name: sheet.quantity(record, FIELDS[name]) for name in LENGTHS if name in values}
    if "rocker_ratio" in values:
        values["rocker_ratio"] = sheet.number(values["rocker_ratio"])
    springs = wanted.setdefault((owner, side), _Springs(owner, side, record, values))
    refuse_difference(sheet, record, values, (springs.first, springs.values), FIELDS)
    point = {name: sheet.quantity(record, name) for name in ("height", "load")}
    if any(point.values()):
        is_measured = record.get("measured").lower() in YES
        springs.rows.append(record)
        springs.points.append({**point, "measured": is_measured})


def _is_whole(sheet: Sheet, springs: _Springs) -> bool:
    """True where springs can be recorded; adds their faults at their first row."""
    before = len(sheet.faults)
    with faults_at_rows(sheet, springs.first, springs.rows, FIELDS, POINT):
        records.read(springs.values, springs.points)
    return len(sheet.faults) == before


def _action(db: Session, springs: _Springs) -> Action:
    named = {"side": translated(springs.side), "owner": springs.owner.title}
    before = _recorded(db, springs)
    clean, points = records.read(springs.values, springs.points)
    if before is not None and records.contents(before) == records.in_words(clean, points):
        words = gettext("{side} springs of {owner} are on record", **named)
        return Action(springs.first.row, already_there(), words)
    if before is not None:
        words = gettext("replaces the {side} springs of {owner}", **named)
        return Action(springs.first.row, gettext("springs replaced"), words)
    words = springs.owner.making(gettext("adds {side} springs to {owner}", **named))
    return Action(springs.first.row, gettext("new springs"), words)


def _recorded(db: Session, springs: _Springs) -> Spring | None:
    owner: EngineType | Visit | None = springs.owner.on_record
    return None if owner is None else records.of_owner(db, owner, springs.side)
