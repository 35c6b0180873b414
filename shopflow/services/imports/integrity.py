"""Pressure, vacuum, leak and crack tests from CSV: one row a test of one place."""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy.orm import Session

from shopflow.models import IntegrityKind, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.imports import visits
from shopflow.services.imports.file_heads import FileHead
from shopflow.services.imports.measured import PLACE_COLUMNS, typed_values
from shopflow.services.imports.planning import (
    Action,
    Plan,
    already_there,
    checked,
    faults_at,
    sorted_faults,
)
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.imports.visits import Visits
from shopflow.services.measuring import integrity_tests
from shopflow.texts import gettext, lazy, translated

COLUMNS = (
    visits.JOB,
    *visits.COLUMNS,
    visits.DATE,
    Column("test", lazy("pressure test, vacuum test, leak test or crack test."), needed=True),
    Column("part", lazy("head, cylinder, port, valve, guide or region; empty means the head.")),
    *PLACE_COLUMNS,
    Column("place", lazy("A region in words. For example around hole 7.")),
    Column("spot", lazy("Exact spot of the leak or crack.")),
    Column("method", lazy("Needed for a crack test. For example dye penetrant.")),
    Column("medium", lazy("For example water.")),
    Column("pressure", "", dimension="pressure"),
    Column("duration", lazy("How long it was held."), dimension="time"),
    Column("drop", "", dimension="pressure"),
    Column("volume", "", dimension="volume"),
    Column("temperature", "", dimension="temperature"),
    Column("verdict", lazy("passed, watch, repairable or failed."), needed=True),
    Column("notes", ""),
)
EXAMPLES = (
    {
        **visits.EXAMPLE,
        "date": "2019-05-31",
        "test": "pressure test",
        "medium": "water",
        "pressure": "40 psi",
        "duration": "10 min",
        "drop": "0 psi",
        "verdict": "passed",
    },
)
FIELDS = {
    name: name
    for name in (*integrity_tests.PLACE, *integrity_tests.CONDITIONS, "spot", "notes")
} | {"result": "verdict"}  # fmt: skip
QUANTITIES = ("pressure", "duration", "drop", "volume", "temperature")
IN_WORDS = ("part", "side", "result")

_KIND: fields.Specification = {"kind": fields.one_of(IntegrityKind)}


class _Row(NamedTuple):
    """A test to record, with the day as typed."""

    head: FileHead
    kind: IntegrityKind
    at: datetime
    values: dict[str, Any]
    clean: dict[str, Any]

    def key(self, recorded: Visits) -> tuple[Any, ...]:
        """Key that tells it from the other tests of its head."""
        place = (self.clean[name] for name in integrity_tests.PLACE)
        return (self.kind, *place, self.clean["verdict"], recorded.at(self.at))


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of pressure, vacuum, leak and crack tests."""
    sheet.refuse_other_headings()
    recorded = Visits(db, sheet)
    rows: list[_Row] = []
    actions = []
    for record in sheet.records:
        row = _row(db, sheet, recorded, record)
        if row is not None:
            actions.append(_action(recorded, record, row, rows))

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by, "imported"):
            recorded.make(db, by)
            for row in rows:
                if row.head.row is not None:
                    then = Actor(by.person, recorded.at(row.at))
                    integrity_tests.add_past(db, then, row.head.row, row.kind, row.values)

    return Plan(actions, sorted_faults(sheet), write)


def _row(db: Session, sheet: Sheet, recorded: Visits, record: Record) -> _Row | None:
    before = len(sheet.faults)
    given = {"kind": record.get("test").lower()} if record.get("test") else {}
    kind = checked(sheet, record, _KIND, {"kind": "test"}, given).get("kind")
    head, at = recorded.of(record), visits.day_of(sheet, record)
    if kind is None or head is None or at is None:
        return None
    values = typed_values(sheet, record, FIELDS)
    values |= {name: values[name].lower() for name in IN_WORDS if name in values}
    values |= {name: sheet.quantity(record, name) for name in QUANTITIES if name in values}
    clean: dict[str, Any] = {}
    with faults_at(sheet, record, FIELDS):
        clean = integrity_tests.read(db, head.shape, kind, values)
    return None if len(sheet.faults) > before else _Row(head, kind, at, values, clean)


def _action(recorded: Visits, record: Record, row: _Row, rows: list[_Row]) -> Action:
    named = {
        "test": translated(row.kind.value),
        "verdict": translated(row.clean["verdict"].value),
        "head": row.head.title,
    }
    if row.key(recorded) in recorded.once(row.head, _recorded):
        words = gettext("{test} of {head}, {verdict}, is on record", **named)
        return Action(record.row, already_there(), words)
    rows.append(row)
    words = row.head.making(gettext("adds {test} of {head}: {verdict}", **named), row.at)
    return Action(record.row, gettext("test"), words)


def _recorded(visit: Visit) -> set[tuple[Any, ...]]:
    """Keys of a head's tests on record."""
    return {
        (
            row.kind, row.part, row.cylinder, row.side, row.valve, row.place, row.verdict,
            row.at.replace(second=0, microsecond=0),
        )
        for row in visit.integrity_tests
    }  # fmt: skip
