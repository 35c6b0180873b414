"""Hand-off notes: writing and signing them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import radians
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import EngineSetUp, HandOffFigure, HandOffNote, ValveSetUp, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.springs.seat_loads import SIDES, unsigned_because
from shopflow.texts import gettext

NOTE: fields.Specification = {
    "addressee": fields.text(),
    "to_check": fields.words(),
    "cautions": fields.words(),
    "notes": fields.words(),
}
VALVE: fields.Specification = {
    "base_seat_load": fields.quantity("force", above=-1e-9),
    "seat_angle_allowance": fields.quantity("force", above=-1e-9),
    "seat_angle": fields.quantity("angle", above=0.0),
    "allowance_derived": fields.flag(),
    "port_pressure": fields.quantity("pressure", above=-1e-9),
    "valve_head_diameter": fields.quantity("length", above=0.0),
    "spring_rate": fields.quantity("force per length", above=0.0),
    "installed_height": fields.quantity("length", above=0.0),
    "coil_bind_height": fields.quantity("length", above=0.0),
    "valve_lift": fields.quantity("length", above=0.0),
    "installed_load": fields.quantity("force", above=-1e-9),
    "retainer_to_guide": fields.quantity("length", above=-1e-12),
}
ENGINE: fields.Specification = {
    "gasket_bore": fields.quantity("length", above=0.0),
    "gasket_thickness": fields.quantity("length", above=0.0),
    "deck_clearance": fields.quantity("length"),
    "piston_dish": fields.quantity("volume"),
    "chamber_footprint": fields.quantity("area", above=0.0),
    "intake_temperature": fields.quantity("temperature", above=0.0),
    "exhaust_temperature": fields.quantity("temperature", above=0.0),
    "fuel_to_air": fields.decimal(),
    "gas_flow": fields.quantity("mass flow", above=0.0),
    "turbine_outlet_pressure": fields.quantity("pressure", above=-1e-9),
    "air_pressure": fields.quantity("pressure", above=0.0),
}
STEEPEST = radians(89.9)
FIGURE: fields.Specification = {
    "name": fields.text(required=True),
    "value": fields.text(required=True),
    "working": fields.words(),
}


def write(
    db: Session,
    by: Actor,
    visit: Visit,
    values: Mapping[str, Any],
    valves: Mapping[str, Mapping[str, Any]],
    figures: Sequence[Mapping[str, Any]],
    engine: Mapping[str, Any] | None = None,
) -> HandOffNote:
    """Write a head's hand-off note, or rewrite it while it is unsigned.

    `valves` maps "intake" and "exhaust" to their set-up, `engine` is what its builder gives.
    Raises RuleError where the note is signed, ValidationError keyed as "intake-spring_rate",
    "engine-gasket_bore" or "figures-0-name".
    """
    note = visit.hand_off
    if note is not None and note.signed_at is not None:
        raise RuleError(gettext("the note is signed: withdraw the signature to change it"))
    clean, clean_valves, clean_figures, clean_engine = _read(values, valves, figures, engine or {})
    verb = "written" if note is None else "rewritten"
    before = _contents(note) if note else {}
    if note is None:
        note = HandOffNote(job_head=visit, written_at=by.at)
        db.add(note)
    for name, value in clean.items():
        setattr(note, name, value)
    note.written_at = by.at
    note.valves.clear()
    note.figures.clear()
    note.engine = None
    # The old rows must go before new ones take their places.
    db.flush()
    note.valves.extend(ValveSetUp(side=side, **row) for side, row in clean_valves.items())
    note.figures.extend(
        HandOffFigure(position=position, **row)
        for position, row in enumerate(clean_figures, start=1)
    )
    if any(value is not None for value in clean_engine.values()):
        note.engine = EngineSetUp(**clean_engine)
    after = _contents(note)
    changes = {
        name: [before.get(name, ""), after.get(name, "")]
        for name in (before | after)
        if before.get(name) != after.get(name)
    }
    audit_log.record(db, by, note, verb, job=visit.job, changes=changes)
    return note


def sign(db: Session, by: Actor, note: HandOffNote) -> HandOffNote:
    """Sign a note. Raises RuleError where it is signed, or nobody is named."""
    if note.signed_at is not None:
        raise RuleError(gettext("the note is signed already"))
    if by.person is None:
        raise RuleError(gettext("a signature needs a person"))
    if not note.has_figures:
        raise RuleError(gettext("the note has no values yet: enter what the assembler needs first"))
    if because := list(unsigned_because(note)):
        raise RuleError(
            gettext("the note cannot be signed yet: {because}", because="; ".join(because))
        )
    values = {"signed_at": by.at, "signed_by_id": by.person_id}
    audit_log.change(db, by, note, values, job=note.job_head.job, verb="signed")
    return note


def take_back(db: Session, by: Actor, note: HandOffNote) -> HandOffNote:
    """Take the signature back, so that the note can be changed. Raises RuleError."""
    if note.signed_at is None:
        raise RuleError(gettext("the note is not signed"))
    values = {"signed_at": None, "signed_by_id": None}
    audit_log.change(db, by, note, values, job=note.job_head.job, verb="signature withdrawn")
    return note


def _contents(note: HandOffNote) -> dict[str, str]:
    """Contents of a note by field, for the log."""
    contents = {name: getattr(note, name) for name in NOTE}
    for valve in note.valves:
        contents |= {f"{valve.side} {name}": str(getattr(valve, name) or "") for name in VALVE}
    if note.engine is not None:
        contents |= {f"engine {name}": _text(getattr(note.engine, name)) for name in ENGINE}
    for row in note.figures:
        contents[row.name] = f"{row.value}; {row.working}" if row.working else row.value
    return {name: words for name, words in contents.items() if words}


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _read(
    values: Mapping[str, Any],
    valves: Mapping[str, Mapping[str, Any]],
    figures: Sequence[Mapping[str, Any]],
    engine: Mapping[str, Any],
) -> tuple[dict[str, Any], dict[str, dict[str, Any]], list[dict[str, Any]], dict[str, Any]]:
    faults: list[FieldError] = []

    def read(prefix: str, spec: fields.Specification, typed: Mapping[str, Any]) -> dict[str, Any]:
        try:
            return fields.read(spec, typed)
        except ValidationError as error:
            faults.extend(FieldError(f"{prefix}{item.key}", item.message) for item in error.faults)
            return {}

    clean = read("", NOTE, values)
    clean_valves = {
        side: read(f"{side}-", VALVE, valves[side]) for side in SIDES if valves.get(side)
    }
    clean_figures = [
        read(f"figures-{index}-", FIGURE, {"name": None, "value": None, **figure})
        for index, figure in enumerate(figures)
    ]
    clean_engine = read("engine-", ENGINE, engine)
    faults += [*_bound(clean_valves), *_angles(clean_valves)]
    if faults:
        raise ValidationError(faults)
    return clean, clean_valves, clean_figures, clean_engine


def _bound(valves: Mapping[str, Mapping[str, Any]]) -> Iterator[FieldError]:
    """A fault at each spring that would bind where it is installed."""
    for side, row in valves.items():
        height, bind = row.get("installed_height"), row.get("coil_bind_height")
        if height is not None and bind is not None and bind.si >= height.si:
            message = gettext("the spring binds before it is installed: check both heights")
            yield FieldError(f"{side}-coil_bind_height", message)


def _angles(valves: Mapping[str, Mapping[str, Any]]) -> Iterator[FieldError]:
    """A fault at each seat that is no cone, and each allowance entered beside a derived one."""
    for side, row in valves.items():
        angle = row.get("seat_angle")
        if angle is not None and angle.si >= STEEPEST:
            yield FieldError(
                f"{side}-seat_angle",
                gettext("enter an angle below 90 deg, not {angle}", angle=angle),
            )
        if row.get("allowance_derived") and row.get("seat_angle_allowance") is not None:
            message = gettext("leave it blank to derive it, or untick “Derive from seat angle”")
            yield FieldError(f"{side}-seat_angle_allowance", message)
