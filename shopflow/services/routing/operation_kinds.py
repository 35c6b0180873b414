"""The kinds of operation: the shop adds its own, changes and retires any."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.documents.cautions import BY_HAZARD
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    IntegrityKind,
    MeasurementKind,
    Operation,
    OperationKind,
    OperationState,
    TaxClass,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext

LONGEST_CODE = 40
MOST_PLACES = 200
"""Places of one head that a step may ask for by number."""

BUILT_IN = frozenset(step.code for step in built_in_kinds.OPERATIONS)
FIXED = ("name", "cuts_metal", "cautions")
"""Fixed fields of a built-in kind: its name is on documents, its cautions protect."""


def get(db: Session, kind_id: int) -> OperationKind:
    """The kind of operation with this key. Raises NotFoundError."""
    kind = db.get(OperationKind, kind_id)
    if kind is None:
        raise NotFoundError(gettext("this step type does not exist: choose another"))
    return kind


def everything(db: Session) -> list[OperationKind]:
    """Every kind of operation, those in use first, by name."""
    return list(
        db.scalars(select(OperationKind).order_by(OperationKind.active.desc(), OperationKind.name))
    )


def is_built_in(kind: OperationKind) -> bool:
    """True where every shop starts with this kind of step."""
    return kind.code in BUILT_IN


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> OperationKind:
    """Add a kind of the shop's own; its code is made from its name. Raises ValidationError."""
    clean = fields.require(_specification(db), values, "name", "usual_minutes")
    _check(db, clean, but=None)
    kind = OperationKind(code=_new_code(db, clean["name"]), **clean)
    db.add(kind)
    audit_log.record(db, by, kind, "added", note=kind.name)
    return kind


def change(db: Session, by: Actor, kind: OperationKind, values: Mapping[str, Any]) -> OperationKind:
    """Change a kind; steps planned before keep their minutes and price.

    Raises ValidationError; RuleError where a built-in kind would lose its name or its cautions.
    """
    clean = fields.read(_specification(db), values)
    fixed = {name: getattr(kind, name) for name in FIXED}
    if is_built_in(kind) and any(clean.get(name, old) != old for name, old in fixed.items()):
        raise RuleError(
            gettext("you cannot change the name, cautions or metal cutting of a built-in step type")
        )
    _check(db, {**fixed, **clean}, but=kind)
    cut_before = kind.cuts_metal
    audit_log.change(db, by, kind, clean)
    if kind.cuts_metal != cut_before:
        _renew_cases(db, kind)
    return kind


def _renew_cases(db: Session, kind: OperationKind) -> None:
    """Credit the gains of heads that had this step to what cuts metal now."""
    done = select(Operation.job_head_id).where(
        Operation.kind_id == kind.id, Operation.state == OperationState.DONE
    )
    for visit in db.scalars(select(Visit).where(Visit.id.in_(done))).all():
        sessions.renew_cases(db, visit)


def retire(db: Session, by: Actor, kind: OperationKind) -> OperationKind:
    """Offer a kind no more; steps and routings that have it keep it."""
    audit_log.change(db, by, kind, {"active": False}, verb="retired")
    return kind


def bring_back(db: Session, by: Actor, kind: OperationKind) -> OperationKind:
    """Offer a retired kind again."""
    audit_log.change(db, by, kind, {"active": True}, verb="brought back")
    return kind


def _specification(db: Session) -> fields.Specification:
    figures = db.scalars(select(MeasurementKind.code))
    return {
        "name": fields.text(required=True, most=60),
        "cuts_metal": fields.flag(),
        "cautions": _some_of(BY_HAZARD),
        "asks_for": _some_of(figures),
        "asks_where": _places_asked,
        "tests_by": lambda value: fields.one_of(IntegrityKind)(value) if value else None,
        "usual_minutes": fields.count(required=True),
        "usual_price": fields.price(),
        "tax_class": fields.one_of(TaxClass),
    }


def _some_of(choices: Iterable[str]) -> Callable[[Any], list[str]]:
    allowed = set(choices)

    def reader(value: Any) -> list[str]:
        unknown = [choice for choice in value or () if choice not in allowed]
        if unknown:
            raise ValueError(
                gettext("'{unknown}' is not a choice: choose one from the list", unknown=unknown[0])
            )
        return list(dict.fromkeys(value or ()))

    return reader


def _places_asked(value: Any) -> dict[str, str]:
    """Places that each kind of measurement is asked for at; no entry means one place."""
    places = {code: str(where).strip() for code, where in dict(value or {}).items() if where}
    for where in places.values():
        counted = where.isdecimal() and 1 < int(where[:6]) <= MOST_PLACES
        named = (built_in_kinds.EVERY, built_in_kinds.EACH_CYLINDER, built_in_kinds.EACH_PORT)
        if where not in named and not counted:
            raise ValueError(
                gettext(
                    "'{where}' is not a number of places: enter a whole number from 2 to "
                    "{most_places}",
                    where=where,
                    most_places=MOST_PLACES,
                )
            )
    return places


def _check(db: Session, clean: Mapping[str, Any], but: OperationKind | None) -> None:
    faults = []
    same = select(OperationKind).where(func.lower(OperationKind.name) == clean["name"].lower())
    if any(other is not but for other in db.scalars(same)):
        faults.append(FieldError("name", gettext("this name is taken: enter another")))
    if clean.get("cuts_metal") and not clean.get("cautions"):
        faults.append(
            FieldError(
                "cautions", gettext("choose the hazards: every step that cuts metal has some")
            )
        )
    if faults:
        raise ValidationError(faults)


def _new_code(db: Session, name: str) -> str:
    """Make an unused code from a name: "Pinning a crack" is "pinning-a-crack"."""
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[: LONGEST_CODE - 4] or "step"
    codes_in_use = set(db.scalars(select(OperationKind.code)))
    codes = (
        stem if number == 1 else f"{stem}-{number}" for number in range(1, len(codes_in_use) + 2)
    )
    return next(code for code in codes if code not in codes_in_use)
