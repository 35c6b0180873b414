"""Seats from CSV: one row a cut, from the chamber to the throat; of a head or an engine type."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import HeadPlace, PlaceKind, SeatProfile, Visit, When
from shopflow.models.places import SIDES
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.imports import visits
from shopflow.services.imports.file_heads import FileEngine, Owner
from shopflow.services.imports.planning import (
    Action,
    Plan,
    already_there,
    checked,
    faults_at,
    faults_at_rows,
    sorted_faults,
    with_the_rest,
)
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.imports.springs import JOB, SIDE, YES
from shopflow.services.imports.visits import Visits, refuse_difference
from shopflow.services.measuring import placing, seat_entry, seat_profiles
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem

COLUMNS = (
    JOB,
    *visits.COLUMNS,
    Column("cylinder", lazy("Empty for the usual seat of an engine type.")),
    SIDE,
    Column("valve", lazy("Name or number of the valve on its side, where there are several.")),
    Column("taken", lazy("before or after the work; empty means after.")),
    Column("valve head diameter", "", dimension="length"),
    Column("valve margin", "", dimension="length"),
    Column("throat diameter", "", dimension="length"),
    Column("contact position", lazy("Along the valve face, below the margin."), dimension="length"),
    Column("notes", lazy("A seat's rows repeat what holds for all of it.")),
    Column("angle", lazy("Of one cut. Cuts are listed from the chamber to the throat."),
           needed=True, dimension="angle"),
    Column("width", "", dimension="length"),
    Column("outer diameter", "", dimension="length"),
    Column("blend radius", "", dimension="length"),
    Column("tool", ""),
    Column("seat", lazy("yes for the cut that carries the valve.")),
)  # fmt: skip
EXAMPLES = tuple(
    {
        "builder": "Ironside",
        "family": "342",
        "engine cylinders": "8",
        "side": "intake",
        "valve head diameter": "1.940 in",
        **cut,
    }
    for cut in (
        {"angle": "30 deg", "outer diameter": "1.970 in"},
        {"angle": "45 deg", "outer diameter": "1.920 in", "width": "0.060 in", "seat": "yes"},
        {"angle": "60 deg", "width": "0.100 in"},
    )
)
FIELDS = {
    "head_diameter": "valve head diameter",
    "margin": "valve margin",
    "throat_diameter": "throat diameter",
    "contact_position": "contact position",
    "notes": "notes",
}
CUT = {
    "angle": "angle",
    "width": "width",
    "outer_diameter": "outer diameter",
    "blend_radius": "blend radius",
    "tool": "tool",
    "is_contact": "seat",
}
SEAT = {"cylinder": "cylinder", "side": "side", "valve": "valve", "when": "taken"}

_SEAT: fields.Specification = {
    "cylinder": fields.count(least=1),
    "side": fields.among(*SIDES),
    "valve": fields.text(most=40),
    "when": fields.one_of(When),
}


@dataclass(eq=False)
class _Seat:
    """The seat that rows are cuts of; no place for the usual one of a side."""

    owner: Owner
    side: str
    place: HeadPlace | None
    when: When
    first: Record
    values: dict[str, Any]
    cuts: list[tuple[Record, dict[str, Any]]] = field(default_factory=list)

    @property
    def entry(self) -> dict[str, Any]:
        """Its fields as a form has them."""
        return {**self.values, "cuts": [cut for _, cut in self.cuts]}

    @property
    def title(self) -> str:
        """The seat in words, with its owner."""
        if self.place is None:
            side = translated(self.side)
            return gettext("usual {side} seat of {owner}", side=side, owner=self.owner.title)
        return gettext("{seat} of {owner}", seat=self.place.label, owner=self.owner.title)


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of seats."""
    sheet.refuse_other_headings()
    recorded, units = Visits(db, sheet), unit_system(get_shop(db))
    wanted: dict[tuple[Any, ...], _Seat] = {}
    for record in sheet.records:
        _take(sheet, recorded, wanted, record)
    seats = [seat for seat in wanted.values() if _is_whole(sheet, seat, units)]
    firsts = [_action(db, each, units) for each in seats]
    changing = [each for each, first in zip(seats, firsts, strict=True)
                if first.kind != already_there()]  # fmt: skip
    actions = [
        action
        for each, first in zip(seats, firsts, strict=True)
        for action in with_the_rest(first, (record for record, _ in each.cuts))
    ]

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by, "imported"):
            recorded.make(db, by)
            for seat in changing:
                _save(db, by, seat, units)

    return Plan(actions, sorted_faults(sheet), write)


def _take(
    sheet: Sheet, recorded: Visits, wanted: dict[tuple[Any, ...], _Seat], record: Record
) -> None:
    """Add a row's cut to its seat; what holds for the seat must be as in its first row."""
    before = len(sheet.faults)
    given = {name: record.get(column) for name, column in SEAT.items() if record.get(column)}
    given |= {name: given[name].lower() for name in ("side", "when") if name in given}
    seat = checked(sheet, record, _SEAT, SEAT, given)
    owner = recorded.owner(record)
    if len(sheet.faults) > before or owner is None or "side" not in seat:
        return
    place = None if isinstance(owner, FileEngine) else _seat_place(sheet, record, owner, seat)
    if len(sheet.faults) > before:
        return
    when = When.AFTER if place is None else seat.get("when", When.AFTER)
    values = {name: _typed(sheet, record, column) for name, column in FIELDS.items()
              if record.get(column)}  # fmt: skip
    key = (owner, seat["side"], place, when)
    row = wanted.setdefault(key, _Seat(owner, seat["side"], place, when, record, values))
    refuse_difference(sheet, record, values, (row.first, row.values), FIELDS)
    cut: dict[str, Any] = {name: _typed(sheet, record, column) for name, column in CUT.items()}
    cut["is_contact"] = record.get("seat").lower() in YES
    row.cuts.append((record, cut))


def _seat_place(
    sheet: Sheet, record: Record, owner: Owner, seat: dict[str, Any]
) -> HeadPlace | None:
    """The place of a seat on its head; None with an error."""
    head = owner.shape
    if "cylinder" not in seat:
        sheet.fault(record.row, "cylinder", gettext("required: enter a value"))
        return None
    with faults_at(sheet, record, SEAT):
        valve = placing.read_place(PlaceKind.SEAT, head, seat)["valve"]
        key = (seat["cylinder"], seat["side"], valve)
        place = head.plan.place_at(PlaceKind.SEAT, key) if head.plan else None
        if place is None:
            words = (
                gettext("choose the valve: this side has several")
                if head.plan
                else gettext("the head layout of {engine} is not recorded: set it first",
                             engine=head.engine_type.title)
            )  # fmt: skip
            sheet.fault(record.row, "valve", words)
        return place
    return None


def _typed(sheet: Sheet, record: Record, column: str) -> str:
    is_text = not sheet.by_name[column].dimension
    return record.get(column) if is_text else sheet.quantity(record, column)


def _is_whole(sheet: Sheet, seat: _Seat, units: UnitSystem) -> bool:
    """True where a seat can be recorded; adds the faults of each cut at its row."""
    before = len(sheet.faults)
    rows = [record for record, _ in seat.cuts]
    with faults_at_rows(sheet, seat.first, rows, FIELDS, CUT):
        seat_entry.read(seat.entry, units, seat.when)
    return len(sheet.faults) == before


def _action(db: Session, seat: _Seat, units: UnitSystem) -> Action:
    row, before = seat.first.row, _recorded(db, seat)
    if before is not None and _is_alike(before, seat, units):
        words = gettext("{seat} is on record", seat=seat.title)
        return Action(row, already_there(), words)
    if before is not None:
        words = gettext("replaces {seat}", seat=seat.title)
        return Action(row, gettext("seat replaced"), words)
    words = seat.owner.making(gettext("adds {seat}", seat=seat.title))
    return Action(row, gettext("new seat"), words)


def _is_alike(row: SeatProfile, seat: _Seat, units: UnitSystem) -> bool:
    entry = seat_entry.read(seat.entry, units, seat.when)
    cuts = [{name: getattr(cut, name) for name in seat_profiles.CUT} for cut in row.cuts]
    return seat_profiles.typed_values(row) == entry.values and cuts == list(entry.cuts)


def _recorded(db: Session, seat: _Seat) -> SeatProfile | None:
    owner = seat.owner.on_record
    if owner is None:
        return None
    if isinstance(owner, Visit):
        return seat_profiles.profile_at(owner, seat.place, seat.when) if seat.place else None
    return seat_profiles.usual(db, owner, seat.side)


def _save(db: Session, by: Actor, seat: _Seat, units: UnitSystem) -> None:
    owner = seat.owner.record
    if not isinstance(owner, Visit):
        seat_profiles.save_usual(db, by, owner, seat.side, seat.entry, units)
    elif seat.place is not None:
        seat_profiles.save(db, by, owner, seat.place, seat.when, seat.entry, units)
