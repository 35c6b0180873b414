"""Heads from CSV: castings, each under its owner and engine type."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import ValidationError
from shopflow.models import EngineType, Head, HeadOwner
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party, current_name
from shopflow.services.imports.planning import Action, Plan, already_there, checked, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.matching.fuzzy import bare
from shopflow.services.registry import head_layouts, heads
from shopflow.texts import gettext, lazy

CASTING_COLUMNS = (
    Column("casting number", lazy("Enter this or the serial number.")),
    Column(
        "serial",
        lazy(
            "Stamped or tagged on the casting. Identifies the head; spaces and hyphens do not "
            "matter."
        ),
    ),
)
COLUMNS = (
    Column("customer", lazy("The owner. Added if no customer has this name."), needed=True),
    *ENGINE_COLUMNS,
    *CASTING_COLUMNS,
    Column("material", ""),
    Column("ports", lazy("For example one intake, one exhaust per cylinder.")),
    Column("chamber", lazy("For example pent roof or wedge.")),
    Column("cylinders", lazy("Numbers of a head of a V engine. For example 1, 3, 5, 7.")),
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

HeadKey = tuple[int | Party, str, str]
"""Identity of a head: its engine type (key or a new one), and serial or casting number."""


@dataclass(eq=False)
class Casting:
    """A head on record, or the values it will be made with."""

    owner: Party
    engine: Party
    values: dict[str, Any]
    row: Head | None = None

    def make(self, db: Session, by: Actor) -> None:
        """Record it."""
        self.row = heads.create(db, by, self.engine.row, self.owner.row, self.values)


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of heads."""
    sheet.refuse_other_headings()
    parties, on_file = Parties(db), _on_file(db)
    first_rows: dict[HeadKey, int] = {}
    wanted: list[Casting] = []
    actions = []
    for record in sheet.records:
        casting = _casting(sheet, parties, record)
        if casting is not None and not _twice(sheet, first_rows, record, casting):
            actions.append(_action(sheet, on_file, wanted, record, casting))

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by):
            parties.make(
                db,
                by,
                (
                    part
                    for casting_wanted in wanted
                    for part in (casting_wanted.owner, casting_wanted.engine)
                ),
            )
            for casting_wanted in wanted:
                casting_wanted.make(db, by)

    return Plan(actions, sorted_faults(sheet), write)


def head_key(engine: Party, values: Mapping[str, Any]) -> HeadKey:
    """Serial where there is one, else casting number, of an engine type."""
    serial, number = bare(values.get("serial", "")), bare(values.get("casting_number", ""))
    key = engine if engine.is_new else engine.row.id
    return (key, "serial", serial) if serial else (key, "casting", number)


def casting_given(sheet: Sheet, record: Record) -> bool:
    """True where a row identifies its casting; adds an error where not."""
    if record.get("casting number") or record.get("serial"):
        return True
    sheet.fault(
        record.row,
        "casting number",
        gettext("required: enter the casting number or the serial number"),
    )
    return False


def _casting(sheet: Sheet, parties: Parties, record: Record) -> Casting | None:
    owner = parties.customer(sheet, record)
    engine = parties.engine(sheet, record)
    values = checked(sheet, record, heads.SPECIFICATION, FIELDS)
    if engine is not None and values and not _cylinders_fit(sheet, record, engine, values):
        return None
    if not casting_given(sheet, record) or owner is None or engine is None or not values:
        return None
    return Casting(owner, engine, values)


def _cylinders_fit(sheet: Sheet, record: Record, engine: Party, values: dict[str, Any]) -> bool:
    """True where the cylinder numbers are those of a head of this engine; adds an error if not."""
    engine_type = engine.row or EngineType(cylinders=int(engine.values.get("cylinders") or 0))
    try:
        values["cylinders"] = head_layouts.read_cylinders(engine_type, values.get("cylinders"))
    except ValidationError as error:
        sheet.fault(record.row, "cylinders", error.faults[0].message)
        return False
    return True


def _twice(sheet: Sheet, first_rows: dict[HeadKey, int], record: Record, casting: Casting) -> bool:
    """True where a row above is of the same head; adds an error then."""
    casting_key = head_key(casting.engine, casting.values)
    key = casting_key if casting_key[1] == "serial" else (casting.owner, *casting_key[1:])
    first = first_rows.setdefault(key, record.row)
    if first == record.row:
        return False
    column = "serial" if casting_key[1] == "serial" else "casting number"
    sheet.fault(
        record.row,
        column,
        gettext("the same head as in row {first}; serials tell heads apart", first=first),
    )
    return True


def _action(
    sheet: Sheet,
    on_file: Mapping[HeadKey, list[Head]],
    wanted: list[Casting],
    record: Record,
    casting: Casting,
) -> Action:
    key = head_key(casting.engine, casting.values)
    identity = " ".join(v for v in (record.get("casting number"), record.get("serial")) if v)
    same_key = on_file.get(key, [])
    theirs = [head for head in same_key if heads.owner(head) is casting.owner.row]
    if theirs:
        owner = casting.owner.name
        words = gettext("head {identity} of {owner} is on record", identity=identity, owner=owner)
        return Action(record.row, already_there(), words)
    if same_key and key[1] == "serial":
        owner = current_name(heads.owner(same_key[0]))
        sheet.fault(
            record.row,
            "serial",
            gettext("this head is on record as {owner}'s; book it in instead", owner=owner),
        )
    wanted.append(casting)
    words = gettext(
        "makes head {identity} of {owner}, {engine}",
        identity=identity,
        owner=casting.owner.announced(),
        engine=casting.engine.announced(),
    )
    return Action(record.row, gettext("new head"), words)


def _on_file(db: Session) -> dict[HeadKey, list[Head]]:
    query = select(Head).options(selectinload(Head.owners).joinedload(HeadOwner.customer))
    heads_by_key: dict[HeadKey, list[Head]] = {}
    for head in db.scalars(query):
        serial, number = bare(head.serial), bare(head.casting_number)
        number_key = ("serial", serial) if serial else ("casting", number)
        heads_by_key.setdefault((head.engine_type_id, *number_key), []).append(head)
    return heads_by_key
