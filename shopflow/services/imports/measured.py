"""Measurements from CSV: one row a value, at its place on a head of a job."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import MeasurementKind, Visit, When
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports import visits
from shopflow.services.imports.file_heads import FileHead
from shopflow.services.imports.planning import Action, Plan, already_there, faults_at, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.imports.visits import Visits
from shopflow.services.measuring import measurements
from shopflow.texts import gettext, lazy
from shopflow.units import Quantity

PLACE_COLUMNS = (
    Column("cylinder", ""),
    Column("side", lazy("intake or exhaust.")),
    Column("valve", lazy("Name or number of the valve on its side, where there are several.")),
)
COLUMNS = (
    visits.JOB,
    *visits.COLUMNS,
    visits.DATE,
    Column("measurement", lazy("A measurement type of the shop. For example Installed height of "
           "the spring."), needed=True),
    *PLACE_COLUMNS,
    Column("place", lazy("Where there are several. For example hole 7.")),
    Column("distance", lazy("Along the port. For example 25 mm.")),
    Column("from", lazy("valve seat or port flange.")),
    Column("taken", lazy("before or after the work; empty means after.")),
    Column("value", lazy("With its unit, or with the unit in a column of its own."), needed=True),
    Column("minimum", lazy("Empty for the limits of the engine type.")),
    Column("maximum", ""),
    Column("unit", lazy("Of bare numbers in value, minimum and maximum.")),
    Column("notes", ""),
)  # fmt: skip
EXAMPLES = (
    {
        **visits.EXAMPLE,
        "date": "2019-05-31",
        "measurement": "Installed height of the spring",
        "cylinder": "1",
        "side": "intake",
        "taken": "before",
        "value": "1.812 in",
    },
)
FIELDS = {
    "cylinder": "cylinder",
    "side": "side",
    "valve": "valve",
    "place": "place",
    "distance": "distance",
    "datum": "from",
    "when": "taken",
    "value": "value",
    "lower": "minimum",
    "upper": "maximum",
    "notes": "notes",
}
WITH_UNIT = ("value", "lower", "upper")
WORDS = ("side", "datum", "when")
"""Fields of a few words, however they are capitalized."""


class _Row(NamedTuple):
    """A measurement to record, with the day as typed."""

    head: FileHead
    kind: MeasurementKind
    at: datetime
    values: dict[str, Any]
    clean: dict[str, Any]
    """The values as they will be recorded."""

    def key(self, recorded: Visits) -> tuple[Any, ...]:
        """Key that tells it from the other measurements of its head."""
        clean = self.clean
        return (
            self.kind.id, clean.get("cylinder"), clean.get("side", ""), clean.get("valve"),
            clean.get("place", ""), clean.get("when", When.AFTER), _text(clean.get("distance")),
            _text(clean["value"]), recorded.at(self.at),
        )  # fmt: skip


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of measurements."""
    sheet.refuse_other_headings()
    recorded, kinds = Visits(db, sheet), _kinds(db)
    rows: list[_Row] = []
    actions = []
    for record in sheet.records:
        row = _row(sheet, recorded, kinds, record)
        if row is not None:
            actions.append(_action(recorded, record, row, rows))

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by, "imported"):
            recorded.make(db, by)
            for row in rows:
                if row.head.row is not None:
                    then = Actor(by.person, recorded.at(row.at))
                    measurements.record(db, then, row.head.row, row.kind.id, row.values)

    return Plan(actions, sorted_faults(sheet), write)


def typed_values(sheet: Sheet, record: Record, columns: Mapping[str, str]) -> dict[str, Any]:
    """The filled cells of a row by field; numbers with a decimal point and their unit."""
    values: dict[str, Any] = {}
    for name, column in columns.items():
        typed = record.get(column)
        if not typed:
            continue
        if name in WORDS:
            typed = typed.lower()
        elif name in WITH_UNIT:
            typed = sheet.with_unit(typed, record.get("unit"))
        values[name] = typed
    return values


def _row(
    sheet: Sheet, recorded: Visits, kinds: Mapping[str, MeasurementKind], record: Record
) -> _Row | None:
    before = len(sheet.faults)
    kind = kinds.get(record.get("measurement").casefold())
    if kind is None and record.get("measurement"):
        words = gettext(
            "no measurement type is called '{name}': add it first",
            name=record.get("measurement"),
        )
        sheet.fault(record.row, "measurement", words)
    head, at = recorded.of(record), visits.day_of(sheet, record)
    if kind is None or head is None or at is None:
        return None
    values = typed_values(sheet, record, FIELDS)
    clean: dict[str, Any] = {}
    with faults_at(sheet, record, FIELDS):
        clean = measurements.read(kind, head.shape, values)
    if len(sheet.faults) > before:
        return None
    return _Row(head, kind, at, values, clean)


def _action(recorded: Visits, record: Record, row: _Row, rows: list[_Row]) -> Action:
    place = row.head.title
    named = {"kind": row.kind.name, "value": row.values["value"], "head": place}
    if row.key(recorded) in recorded.once(row.head, _recorded):
        words = gettext("{kind} {value} of {head} is on record", **named)
        return Action(record.row, already_there(), words)
    rows.append(row)
    words = row.head.making(gettext("adds {kind} {value} to {head}", **named), row.at)
    return Action(record.row, gettext("measurement"), words)


def _recorded(visit: Visit) -> set[tuple[Any, ...]]:
    """Keys of a head's measurements on record."""
    return {
        (
            row.kind_id, row.cylinder, row.side, row.valve, row.place, row.when,
            _text(row.distance), row.value.text, row.at.replace(second=0, microsecond=0),
        )
        for row in visit.measurements
    }  # fmt: skip


def _text(value: Quantity | None) -> str:
    return "" if value is None else value.text


def _kinds(db: Session) -> dict[str, MeasurementKind]:
    """Kinds of measurement by name and by code, those in use before archived ones."""
    rows = list(db.scalars(select(MeasurementKind).order_by(MeasurementKind.active)))
    by_code = {row.code.casefold(): row for row in rows}
    return by_code | {row.name.casefold(): row for row in rows}
