"""Saved routings: lists of steps the shop uses often."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import OperationKind, Routing, RoutingPart, RoutingStep, TaxClass, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.services.routing.operations import kind_by_code, steps_to_copy, with_usual
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.built_in_plans import STARTERS, Starter
from shopflow.texts import gettext


def list_all(db: Session) -> list[Routing]:
    """The routings the shop has saved, by name."""
    return list(db.scalars(select(Routing).order_by(Routing.name)))


def get(db: Session, routing_id: int) -> Routing:
    """The saved routing with this key. Raises NotFoundError."""
    template = db.get(Routing, routing_id)
    if template is None:
        raise NotFoundError(gettext("this work plan template does not exist"))
    return template


PACKAGE: fields.Specification = {
    "package_price": fields.price(),
    "tax_class": fields.one_of(TaxClass),
}
PART = ("description", "part_number", "quantity", "unit", "unit_price")
"""Fields of a part of a template, as of a line of a job."""


def save(
    db: Session,
    by: Actor,
    name: str,
    notes: str,
    steps: Sequence[Mapping[str, Any]],
    parts: Sequence[Mapping[str, Any]] = (),
    package: Mapping[str, Any] | None = None,
) -> Routing:
    """Save a routing; each step has `kind` (its code) and an operation's fields, each part a
    line's. `package` has its price, where it has one of its own, and its tax class.

    Raises ValidationError, keyed "name", "steps", "steps-0-price", "parts-0-quantity" and so on.
    """
    clean = _fields(db, name, notes, but=None) | fields.read(PACKAGE, package or {})
    return _save_as(db, by, {**clean, "parts": _parts(parts)}, _steps(db, steps))


def change(
    db: Session,
    by: Actor,
    routing: Routing,
    name: str,
    notes: str,
    steps: Sequence[Mapping[str, Any]],
    parts: Sequence[Mapping[str, Any]] = (),
    package: Mapping[str, Any] | None = None,
) -> Routing:
    """Change a saved routing, its steps and parts replaced by these; heads planned by it keep
    theirs.

    Raises ValidationError as `save`.
    """
    clean = _fields(db, name, notes, but=routing) | fields.read(PACKAGE, package or {})
    replaced, parts_given = _steps(db, steps), _parts(parts)
    audit_log.change(db, by, routing, clean)
    # A change of steps alone must count as a change of the routing too.
    flag_modified(routing, "notes")
    # The old steps leave first: two may not hold one position.
    routing.steps, routing.parts = [], []
    db.flush()
    routing.steps, routing.parts = replaced, parts_given
    audit_log.record(db, by, routing, "steps replaced", note=_in_words(replaced))
    return routing


def save_plan(
    db: Session, by: Actor, visit: Visit, name: str, notes: str, *, with_prices: bool
) -> Routing:
    """Save a head's plan as a template; repeats and what was skipped or declined are left out.

    Without prices each step takes the shop's usual price when a head is planned by it. Raises
    ValidationError at `name`, RuleError where the head has no steps.
    """
    steps = steps_to_copy(visit)
    if not steps:
        raise RuleError(gettext("{label} has no steps to save", label=visit.tag))
    rows = [
        RoutingStep(
            position=position,
            kind=step.kind,
            instructions=step.instructions,
            customer_text=step.customer_text,
            planned_minutes=step.planned_minutes,
            price=step.price if with_prices else None,
        )
        for position, step in enumerate(steps, start=1)
    ]
    clean = _fields(db, name, notes, but=None)
    return _save_as(db, by, clean, rows, gettext("from the plan of {visit}", visit=visit.tag))


def starters_left(db: Session) -> list[Starter]:
    """The starter templates that the shop has not added, in their order."""
    names = set(db.scalars(select(Routing.name)))
    return [starter for starter in STARTERS if str(starter.name) not in names]


def add_starters(db: Session, by: Actor, keys: Sequence[str]) -> list[Routing]:
    """Add starter templates by their keys, without prices. Raises ValidationError at `keys`.

    A step whose kind the shop has archived is left out.
    """
    chosen = [starter for starter in starters_left(db) if starter.key in keys]
    if not chosen:
        raise ValidationError([FieldError("keys", gettext("choose at least one template"))])
    kinds = {kind.code: kind for kind in built_in_kinds.operation_kinds(db)}
    return [
        _save_as(
            db,
            by,
            {"name": str(starter.name), "notes": str(starter.notes)},
            _starter_steps(starter, kinds),
        )
        for starter in chosen
    ]


def _starter_steps(starter: Starter, kinds: Mapping[str, OperationKind]) -> list[RoutingStep]:
    steps = [(kinds[step.kind], step) for step in starter.steps if step.kind in kinds]
    return [
        RoutingStep(
            position=position,
            kind=kind,
            instructions=str(step.instructions),
            planned_minutes=kind.usual_minutes,
        )
        for position, (kind, step) in enumerate(steps, start=1)
    ]


def _save_as(
    db: Session, by: Actor, clean: Mapping[str, Any], steps: list[RoutingStep], note: str = ""
) -> Routing:
    routing = Routing(**clean, steps=steps)
    db.add(routing)
    audit_log.record(db, by, routing, "saved", note=note)
    return routing


def _fields(db: Session, name: str, notes: str, but: Routing | None) -> dict[str, Any]:
    clean = fields.read(
        {"name": fields.text(required=True), "notes": fields.words()},
        {"name": name, "notes": notes},
    )
    existing = db.scalar(select(Routing).where(Routing.name == clean["name"]))
    if existing is not None and existing is not but:
        raise ValidationError([FieldError("name", gettext("this name is taken: enter another"))])
    return clean


def _steps(db: Session, steps: Sequence[Mapping[str, Any]]) -> list[RoutingStep]:
    if not steps:
        raise ValidationError(
            [FieldError("steps", gettext("a work plan template needs a step: choose at least one"))]
        )
    rows: list[RoutingStep] = []
    faults: list[FieldError] = []
    for position, step in enumerate(steps, start=1):
        values = dict(step)
        try:
            kind = kind_by_code(db, values.pop("kind"))
            rows.append(
                RoutingStep(
                    position=position, kind=kind, **with_usual(kind, values, kind.usual_price)
                )
            )
        except ValidationError as error:
            faults += [
                FieldError(f"steps-{position - 1}-{fault.key}", fault.message)
                for fault in error.faults
            ]
    if faults:
        raise ValidationError(faults)
    return rows


def _parts(parts: Sequence[Mapping[str, Any]]) -> list[RoutingPart]:
    rows: list[RoutingPart] = []
    faults: list[FieldError] = []
    specification = {name: job_lines.SPECIFICATION[name] for name in PART}
    for position, part in enumerate(parts, start=1):
        try:
            rows.append(RoutingPart(position=position, **fields.read(specification, part)))
        except ValidationError as error:
            faults += [
                FieldError(f"parts-{position - 1}-{fault.key}", fault.message)
                for fault in error.faults
            ]
    if faults:
        raise ValidationError(faults)
    return rows


def _in_words(steps: Sequence[RoutingStep]) -> str:
    return ", ".join(step.kind.name for step in steps)
