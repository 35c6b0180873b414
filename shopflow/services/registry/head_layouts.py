"""The layout of an engine type's heads: cylinders, valves by side and name, ports."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import EngineType, Head, Measurement, Visit
from shopflow.models.places import EACH_VALVE, OF_A_VALVE, SIDES, read_numbers, read_ports
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import placing
from shopflow.texts import gettext, translated

MOST_VALVES = 6
"""Valves of one cylinder's side."""

USUAL_NAMES = {1: [""], 2: ["front", "rear"], 3: ["front", "middle", "rear"]}


def certain(cylinders: int, valves_per_cylinder: int) -> dict[str, Any]:
    """Layout that these numbers alone leave no doubt of: of two valves, one is on each side."""
    if valves_per_cylinder != 2:
        return {f"{side}_valves": [] for side in SIDES}
    only = {"cylinders_per_head": 1} if cylinders == 1 else {}
    return {**only, **{f"{side}_valves": [""] for side in SIDES}}


def suggested(engine_type: EngineType) -> dict[str, Any]:
    """A layout to start from where none is recorded, as its form holds it."""
    exhaust = max(1, engine_type.valves_per_cylinder // 2)
    counts = {"intake": engine_type.valves_per_cylinder - exhaust, "exhaust": exhaust}
    names = {
        f"{side}_valves": ", ".join(
            engine_type.valve_names(side) or USUAL_NAMES.get(count) or map(str, range(1, count + 1))
        )
        or "1"
        for side, count in counts.items()
    }
    return {
        **names,
        "cylinders_per_head": engine_type.cylinders_per_head or engine_type.cylinders,
        "intake_ports": engine_type.intake_ports,
        "exhaust_ports": engine_type.exhaust_ports,
    }


def set_layout(db: Session, by: Actor, engine_type: EngineType, values: Mapping[str, Any]) -> int:
    """Record what a head of this type has; measurements whose valve is now certain get it.

    Names of valves are text, separated by commas. Gives how many measurements got their valve.
    Raises ValidationError; RuleError where measurements are on record of a valve that would go.
    """
    clean = read(engine_type, values)
    _refuse_loss(db, engine_type, clean)
    audit_log.change(db, by, engine_type, clean, verb="layout set")
    return _place_earlier(db, engine_type)


def read(engine_type: EngineType, values: Mapping[str, Any]) -> dict[str, Any]:
    """A layout as it is recorded, checked; nothing is. Raises ValidationError."""
    clean = fields.require(_SPECIFICATION, values, *_SPECIFICATION)
    clean |= _ports(engine_type, clean)
    clean["valves_per_cylinder"] = sum(len(clean[f"{side}_valves"]) for side in SIDES)
    return clean


def refuse_contradiction(engine_type: EngineType, clean: Mapping[str, Any]) -> None:
    """Refuse a count that the layout recorded contradicts. Raises ValidationError."""
    if engine_type.cylinders_per_head is None:
        return
    faults = []
    valves = sum(len(engine_type.valve_names(side)) for side in SIDES)
    if clean.get("valves_per_cylinder", valves) != valves:
        message = gettext(
            "the head layout has {valves} valves per cylinder: change the head layout first",
            valves=valves,
        )
        faults.append(FieldError("valves_per_cylinder", message))
    if (clean.get("cylinders") or engine_type.cylinders) < engine_type.cylinders_per_head:
        message = gettext(
            "one head has {cylinders}: change the head layout first",
            cylinders=engine_type.cylinders_per_head,
        )
        faults.append(FieldError("cylinders", message))
    if faults:
        raise ValidationError(faults)


def read_cylinders(engine_type: EngineType, typed: Any) -> str:
    """A head's cylinder numbers, checked against its engine type. Raises ValidationError."""
    text = fields.text(most=200)(typed)
    try:
        numbers = read_numbers(text)
        wanted = engine_type.cylinders_per_head
        if numbers and wanted and len(numbers) != wanted:
            raise ValueError(
                gettext(
                    "'{text}' has {count} cylinders: this head has {wanted}",
                    text=text,
                    count=len(numbers),
                    wanted=wanted,
                )
            )
        if numbers and max(numbers) > engine_type.cylinders:
            raise ValueError(
                gettext(
                    "'{text}': this engine has cylinders 1 to {cylinders}",
                    text=text,
                    cylinders=engine_type.cylinders,
                )
            )
    except ValueError as error:
        raise ValidationError([FieldError("cylinders", str(error))]) from None
    return ", ".join(map(str, numbers))


def _names(value: Any) -> list[str]:
    """Names of valves as typed; a single one needs none."""
    text = fields.text()(value)
    names = [name.strip() for name in re.split(r"[,;\n]", text) if name.strip()]
    if len(names) > MOST_VALVES:
        raise ValueError(
            gettext(
                "{count} valves on one side are too many: enter at most {most_valves}",
                count=len(names),
                most_valves=MOST_VALVES,
            )
        )
    if len({name.casefold() for name in names}) < len(names):
        raise ValueError(gettext("'{text}' has a name twice: give each valve its own", text=text))
    if any(len(name) > 30 for name in names):
        raise ValueError(gettext("too long: enter at most 30 characters per name"))
    return names if len(names) > 1 or (names and names[0] != "1") else [""]


_SPECIFICATION: fields.Specification = {
    "cylinders_per_head": fields.count(least=1, required=True),
    "intake_valves": _names,
    "exhaust_valves": _names,
    "intake_ports": fields.text(),
    "exhaust_ports": fields.text(),
}


def _ports(engine_type: EngineType, clean: Mapping[str, Any]) -> dict[str, str]:
    """The ports of both sides as they are recorded. Raises ValidationError."""
    count, faults, ports = clean["cylinders_per_head"], [], {}
    if count > engine_type.cylinders:
        message = gettext(
            "this engine has {cylinders} cylinders: enter that many or fewer",
            cylinders=engine_type.cylinders,
        )
        raise ValidationError([FieldError("cylinders_per_head", message)])
    counted = tuple(range(1, count + 1))
    for side in SIDES:
        text = clean[f"{side}_ports"]
        try:
            valves = read_ports(text, counted)
        except ValueError as error:
            faults.append(FieldError(f"{side}_ports", str(error)))
            continue
        groups = ["+".join(map(str, group)) for group in valves or ()]
        plain = EACH_VALVE if valves is None else ", ".join(groups)
        ports[f"{side}_ports"] = "" if valves == tuple((group,) for group in counted) else plain
    if faults:
        raise ValidationError(faults)
    return ports


def _refuse_loss(db: Session, engine_type: EngineType, clean: Mapping[str, Any]) -> None:
    for side in SIDES:
        left = len(clean[f"{side}_valves"])
        query = _of_type(engine_type).where(Measurement.side == side, Measurement.valve > left)
        if db.scalars(query.limit(1)).first() is not None:
            names = engine_type.valve_names(side)
            raise RuleError(
                gettext(
                    "measurements are on record of {count} {side} valves per cylinder: "
                    "keep their number; you can change their names",
                    count=len(names),
                    side=translated(side),
                )
            )


def _place_earlier(db: Session, engine_type: EngineType) -> int:
    """Give measurements their valve where the layout leaves no doubt; the rest stay as typed."""
    count = 0
    for row in db.scalars(_of_type(engine_type).where(Measurement.valve.is_(None))):
        names = engine_type.valve_names(row.side) if row.side else []
        if row.cylinder is None or row.kind.place_kind not in OF_A_VALVE or not names:
            continue
        named = placing.valve_number(row.place.removesuffix(" valve"), names) if row.place else None
        if named is not None:
            row.valve, row.place, count = named, "", count + 1
        elif len(names) == 1:
            row.valve, count = 1, count + 1
    db.flush()
    return count


def _of_type(engine_type: EngineType) -> Any:
    return (
        select(Measurement)
        .join(Measurement.job_head)
        .join(Visit.head)
        .where(Head.engine_type_id == engine_type.id)
    )
