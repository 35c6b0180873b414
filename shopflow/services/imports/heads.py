"""Heads from CSV: castings, each under its owner and engine type."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import ValidationError
from shopflow.models import EngineType, Head, HeadOwner, HeadStatus, Visit
from shopflow.models.head import GONE
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party, current_name
from shopflow.services.imports.planning import Action, Plan, already_there, checked, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.matching.fuzzy import bare
from shopflow.services.registry import casting_status, head_layouts, heads
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
    Column("customer", lazy("The owner, added if no customer has this name. None for a spare.")),
    *ENGINE_COLUMNS,
    *CASTING_COLUMNS,
    Column("material", ""),
    Column("ports", lazy("For example one intake, one exhaust per cylinder.")),
    Column("chamber", lazy("For example pent roof or wedge.")),
    Column("cylinders", lazy("Numbers of a head of a V engine. For example 1, 3, 5, 7.")),
    Column("notes", ""),
    Column("status", lazy("in use, spare, scrapped, sold or returned; empty means in use.")),
    Column("status reason", lazy("Needed for a head scrapped, sold or returned.")),
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
OWNED = (None, HeadStatus.IN_USE, HeadStatus.RETURNED)
"""Statuses of a head that must have an owner."""

STATUS = {"status": "status", "reason": "status reason"}
FIELDS = {name: name.replace("_", " ") for name in heads.SPECIFICATION}

HeadKey = tuple[int | Party, str, str]
"""Identity of a head: its engine type (key or a new one), and serial or casting number."""


@dataclass(eq=False)
class Casting:
    """A head on record, or the values it will be made with."""

    owner: Party | None
    """None for the shop's own."""

    engine: Party
    values: dict[str, Any]
    row: Head | None = None
    status: HeadStatus | None = None
    """None where the file leaves it as it is."""

    because: str = ""

    @property
    def title(self) -> str:
        """The casting in words, with its owner."""
        return self._described(self.owner.name if self.owner else "")

    def announced(self) -> str:
        """Its title; its owner with a note where the file makes him."""
        return self._described(self.owner.announced() if self.owner else "")

    def _described(self, owner: str) -> str:
        numbers = (self.values.get(name, "") for name in ("casting_number", "serial"))
        identity = " ".join(filter(None, numbers))
        if not owner:
            return gettext("head {identity} of the shop", identity=identity)
        return gettext("head {identity} of {owner}", identity=identity, owner=owner)

    @property
    def has_status(self) -> bool:
        """True where its status needs no change."""
        return self.status in (None, self.row.status if self.row else HeadStatus.IN_USE)

    def make(self, db: Session, by: Actor) -> None:
        """Record it, and its status."""
        if self.row is None:
            owner = self.owner.row if self.owner else None
            self.row = heads.create(db, by, self.engine.row, owner, self.values)
        if self.status is not None and self.row.status is not self.status:
            casting_status.set_status(db, by, self.row, self.status, self.because)


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of heads."""
    sheet.refuse_other_headings()
    parties, recorded = Parties(db), on_file(db)
    first_rows: dict[HeadKey, int] = {}
    wanted: list[Casting] = []
    actions = []
    for record in sheet.records:
        casting = _casting(sheet, parties, record)
        if casting is not None and not _twice(sheet, first_rows, record, casting):
            actions.append(_action(sheet, recorded, wanted, record, casting))

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by):
            parties.make(
                db,
                by,
                (
                    part
                    for casting_wanted in wanted
                    for part in (casting_wanted.owner, casting_wanted.engine)
                    if part is not None
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
    status = _status(sheet, record)
    if engine is not None and values and not _cylinders_fit(sheet, record, engine, values):
        return None
    if not casting_given(sheet, record) or engine is None or not values or status is None:
        return None
    if owner is None and (record.get("customer") or status["status"] in OWNED):
        if not record.get("customer"):
            sheet.fault(record.row, "customer", gettext("required: enter a value"))
        return None
    owned_by = None if status["status"] is HeadStatus.SPARE else owner
    return Casting(owned_by, engine, values, None, status["status"], status["reason"])


def _status(sheet: Sheet, record: Record) -> dict[str, Any] | None:
    """Status of a casting with its reason, none where the row says none; None with an error."""
    given = record.get("status").lower()
    if not given:
        return {"status": None, "reason": ""}
    status = checked(sheet, record, casting_status.SPECIFICATION, STATUS, {"status": given})
    if not status:
        return None
    status = {"reason": "", **status}
    if status["status"] in GONE and not status["reason"]:
        sheet.fault(record.row, "status reason", gettext("required: say why"))
        return None
    return status


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
    # Without a serial, castings of several owners may have one number.
    is_told = casting_key[1] == "serial" or casting.owner is None
    key = casting_key if is_told else (casting.owner or casting_key[0], *casting_key[1:])
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
    recorded: Mapping[HeadKey, list[Head]],
    wanted: list[Casting],
    record: Record,
    casting: Casting,
) -> Action:
    key = head_key(casting.engine, casting.values)
    same_key = recorded.get(key, [])
    owner = casting.owner.row if casting.owner else None
    theirs = [head for head in same_key if casting.owner is None or heads.owner(head) is owner]
    if theirs:
        casting.row = theirs[0]
        return _on_record(sheet, wanted, record, casting, theirs[0])
    if same_key and key[1] == "serial":
        name = current_name(heads.owner(same_key[0]))
        sheet.fault(
            record.row,
            "serial",
            gettext("this head is on record as {owner}'s; book it in instead", owner=name),
        )
    wanted.append(casting)
    words = gettext(
        "makes {head}, {engine}", head=casting.announced(), engine=casting.engine.announced()
    )
    if casting.status not in (None, HeadStatus.IN_USE):
        words = gettext("{words}, {status}", words=words, status=casting.status.value)
    return Action(record.row, gettext("new head"), words)


def _on_record(
    sheet: Sheet, wanted: list[Casting], record: Record, casting: Casting, head: Head
) -> Action:
    """A head on record: nothing to do, or only its status to set."""
    if casting.has_status:
        return Action(
            record.row, already_there(), gettext("{head} is on record", head=casting.title)
        )
    job = next((visit.job for visit in head.visits if visit.job.is_open), None)
    if job is not None and casting.status in (HeadStatus.SPARE, HeadStatus.SOLD):
        words = gettext("this head is on job {job}: close the job first", job=job.number)
        sheet.fault(record.row, "status", words)
    if head.status in GONE and not casting.because:
        sheet.fault(record.row, "status reason", gettext("required: say why"))
    wanted.append(casting)
    words = gettext(
        "changes {head} from {before} to {status}",
        head=casting.title,
        before=head.status.value,
        status=casting.status.value if casting.status else "",
    )
    return Action(record.row, gettext("change of status"), words)


def on_file(db: Session) -> dict[HeadKey, list[Head]]:
    """Heads on record, by their keys."""
    query = select(Head).options(
        selectinload(Head.owners).joinedload(HeadOwner.customer),
        selectinload(Head.visits).joinedload(Visit.job),
    )
    heads_by_key: dict[HeadKey, list[Head]] = {}
    for head in db.scalars(query):
        serial, number = bare(head.serial), bare(head.casting_number)
        number_key = ("serial", serial) if serial else ("casting", number)
        heads_by_key.setdefault((head.engine_type_id, *number_key), []).append(head)
    return heads_by_key
