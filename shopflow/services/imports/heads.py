"""Heads from CSV: castings, each under its owner and engine type."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.models import Head, HeadOwner
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party, current_name
from shopflow.services.imports.planning import NOTHING, Action, Plan, checked, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.matching.fuzzy import bare
from shopflow.services.registry import heads
from shopflow.texts import gettext

CASTING_COLUMNS = (
    Column("casting number", "Enter this or the serial number."),
    Column(
        "serial",
        "Stamped or tagged on the casting. Identifies the head; spaces and hyphens do not matter.",
    ),
)
COLUMNS = (
    Column("customer", "The owner. Added if no customer has this name.", needed=True),
    *ENGINE_COLUMNS,
    *CASTING_COLUMNS,
    Column("material", ""),
    Column("ports", "For example one intake, one exhaust per cylinder."),
    Column("chamber", "For example pent roof or wedge."),
    Column("notes", ""),
)
EXAMPLES = (
    {
        "customer": "Tarn Marine",
        "builder": "Ironside",
        "family": "342",
        "engine cylinders": "8",
        "casting number": "IR 3420 77",
        "serial": "T1187",
        "material": "cast iron",
    },
)
FIELDS = {name: name.replace("_", " ") for name in heads.SPECIFICATION}

Known = tuple[int | Party, str, str]
"""What a head is known by: its engine type (key or one to be made), and serial or casting."""


@dataclass(eq=False)
class Casting:
    """A head on file, or the values it will be made with."""

    owner: Party
    engine: Party
    values: dict[str, Any]
    row: Head | None = None

    def make(self, db: Session, by: Actor) -> None:
        """Put it on file."""
        self.row = heads.create(db, by, self.engine.row, self.owner.row, self.values)


def plan(db: Session, sheet: Sheet) -> Plan:
    """What a file of heads would do."""
    sheet.refuse_other_headings()
    parties, on_file = Parties(db), _on_file(db)
    seen: dict[Known, int] = {}
    wanted: list[Casting] = []
    actions = []
    for record in sheet.records:
        casting = _casting(sheet, parties, record)
        if casting is not None and not _twice(sheet, seen, record, casting):
            actions.append(_action(sheet, on_file, wanted, record, casting))

    def write(db: Session, by: Actor) -> None:
        with audit_log.held(db, by):
            parties.make(db, by, (part for one in wanted for part in (one.owner, one.engine)))
            for one in wanted:
                one.make(db, by)

    return Plan(actions, sorted_faults(sheet), write)


def known_by(engine: Party, values: Mapping[str, Any]) -> Known:
    """Serial where there is one, else casting number, of an engine type."""
    serial, number = bare(values.get("serial", "")), bare(values.get("casting_number", ""))
    key = engine if engine.is_new else engine.row.id
    return (key, "serial", serial) if serial else (key, "casting", number)


def casting_given(sheet: Sheet, record: Record) -> bool:
    """Whether a row says which casting it is of; a fault where not."""
    if record.get("casting number") or record.get("serial"):
        return True
    sheet.fault(
        record.row,
        gettext("casting number"),
        gettext("required: enter the casting number or the serial number"),
    )
    return False


def _casting(sheet: Sheet, parties: Parties, record: Record) -> Casting | None:
    owner = parties.customer(sheet, record)
    engine = parties.engine(sheet, record)
    values = checked(sheet, record, heads.SPECIFICATION, FIELDS)
    if not casting_given(sheet, record) or owner is None or engine is None or not values:
        return None
    return Casting(owner, engine, values)


def _twice(sheet: Sheet, seen: dict[Known, int], record: Record, casting: Casting) -> bool:
    """Whether a row above is of the same head; a fault then."""
    known = known_by(casting.engine, casting.values)
    key = known if known[1] == "serial" else (casting.owner, *known[1:])
    first = seen.setdefault(key, record.row)
    if first == record.row:
        return False
    column = "serial" if known[1] == "serial" else "casting number"
    sheet.fault(
        record.row,
        column,
        gettext("the same head as in row {first}; serials tell heads apart", first=first),
    )
    return True


def _action(
    sheet: Sheet,
    on_file: Mapping[Known, list[Head]],
    wanted: list[Casting],
    record: Record,
    casting: Casting,
) -> Action:
    known = known_by(casting.engine, casting.values)
    identity = " ".join(v for v in (record.get("casting number"), record.get("serial")) if v)
    found = on_file.get(known, [])
    theirs = [head for head in found if heads.owner(head) is casting.owner.row]
    if theirs:
        words = f"head {identity} of {casting.owner.name} is on record"
        return Action(record.row, NOTHING, words)
    if found and known[1] == "serial":
        owner = current_name(heads.owner(found[0]))
        sheet.fault(
            record.row,
            "serial",
            gettext("this head is on record as {owner}'s; book it in instead", owner=owner),
        )
    wanted.append(casting)
    whose = f"{casting.owner.name}{casting.owner.news('customer')}"
    engine = f"{casting.engine.name}{casting.engine.news('engine type')}"
    words = f"makes head {identity} of {whose}, {engine}"
    return Action(record.row, "new head", words)


def _on_file(db: Session) -> dict[Known, list[Head]]:
    query = select(Head).options(selectinload(Head.owners).joinedload(HeadOwner.customer))
    found: dict[Known, list[Head]] = {}
    for head in db.scalars(query):
        serial, number = bare(head.serial), bare(head.casting_number)
        known = ("serial", serial) if serial else ("casting", number)
        found.setdefault((head.engine_type_id, *known), []).append(head)
    return found
