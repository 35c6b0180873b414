"""Limits of pressure, vacuum and leak tests by engine type, and the verdict they propose."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineType, IntegrityKind, IntegrityLimit, IntegrityVerdict
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring.limits import of_side_or_both
from shopflow.texts import gettext, translated
from shopflow.units import Quantity

LIMITED = (IntegrityKind.VACUUM, IntegrityKind.PRESSURE, IntegrityKind.LEAK)
"""Kinds of test whose numbers can be held against a limit."""

SPECIFICATION: fields.Specification = {
    "least_pressure": fields.quantity("pressure", above=0.0),
    "most_drop": fields.quantity("pressure", above=-1e-9),
    "least_duration": fields.quantity("time", above=0.0),
    "source": fields.text(),
}


@dataclass(frozen=True)
class Proposal:
    """The verdict by the limits, and these in words; no verdict where they cannot decide."""

    verdict: IntegrityVerdict | None = None
    limits: str = ""


def get(db: Session, limit_id: int) -> IntegrityLimit:
    """The limit with this key. Raises NotFoundError."""
    limit = db.get(IntegrityLimit, limit_id)
    if limit is None:
        raise NotFoundError(gettext("this limit does not exist"))
    return limit


def of_engine_type(db: Session, engine_type: EngineType) -> list[IntegrityLimit]:
    """An engine type's limits of tests, by kind and side."""
    query = (
        select(IntegrityLimit)
        .where(IntegrityLimit.engine_type_id == engine_type.id)
        .order_by(IntegrityLimit.kind, IntegrityLimit.side)
    )
    return list(db.scalars(query))


def holding(
    db: Session, engine_type: EngineType, kind: IntegrityKind, side: str
) -> IntegrityLimit | None:
    """Limit of a kind of test on one side: the side's own, else that of both."""
    query = select(IntegrityLimit).where(
        IntegrityLimit.engine_type_id == engine_type.id, IntegrityLimit.kind == kind
    )
    return of_side_or_both(db, query, IntegrityLimit.side, side)


def set_(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    kind: str,
    side: str,
    values: Mapping[str, Any],
) -> IntegrityLimit:
    """Set the limits of a kind of test on a side; they replace any before.

    Results recorded before keep the limits they were checked against. Raises ValidationError.
    """
    if kind not in LIMITED:
        raise ValidationError([FieldError("kind", gettext("choose a kind of test"))])
    if side not in ("", "intake", "exhaust"):
        raise ValidationError([FieldError("side", gettext("choose intake, exhaust or neither"))])
    clean = fields.require(SPECIFICATION, values, "least_pressure", "most_drop", "least_duration")
    if clean["least_pressure"] is None and clean["most_drop"] is None:
        message = gettext("enter a minimum, a largest drop, or both")
        raise ValidationError([FieldError("least_pressure", message)])
    of_kind = IntegrityKind(kind)
    existing = holding(db, engine_type, of_kind, side)
    if existing is not None and existing.side == side:
        audit_log.change(db, by, existing, clean)
        return existing
    limit = IntegrityLimit(engine_type_id=engine_type.id, kind=of_kind, side=side, **clean)
    db.add(limit)
    note = f"{engine_type.title}, {translated(of_kind)} {translated(side)}".rstrip()
    audit_log.record(db, by, limit, "set", note=note)
    return limit


def take_out(db: Session, by: Actor, limit: IntegrityLimit) -> None:
    """Remove a limit; results recorded from now on are no longer checked against it."""
    note = f"{translated(limit.kind)} {translated(limit.side)}".rstrip()
    audit_log.record(db, by, limit, "taken out", note=note)
    db.delete(limit)
    db.flush()


def propose(limit: IntegrityLimit | None, values: Mapping[str, Any]) -> Proposal:
    """The verdict on `pressure`, `drop` and `duration` by a limit.

    It passes only what every bound was checked on. A pressure test below its pressure, or one that
    was too short, proves nothing either way.
    """
    if limit is None:
        return Proposal()
    reaches = _holds(values.get("pressure"), limit.least_pressure, least=True)
    lasts = _holds(values.get("duration"), limit.least_duration, least=True)
    keeps = _holds(values.get("drop"), limit.most_drop, least=False)
    # Too little vacuum is the leak itself; too little pressure or time is no test.
    verdicts = [keeps, reaches] if limit.kind is IntegrityKind.VACUUM else [keeps]
    if False in verdicts:
        return Proposal(IntegrityVerdict.FAILED, limit.in_words)
    if not all((reaches, lasts, keeps)):
        return Proposal(None, limit.in_words)
    return Proposal(IntegrityVerdict.PASSED, limit.in_words)


def _holds(value: Quantity | None, bound: Quantity | None, *, least: bool) -> bool | None:
    """True within the bound or without one, False beyond it, None where no value is known."""
    if bound is None:
        return True
    if value is None:
        return None
    if math.isclose(value.si, bound.si, rel_tol=1e-12):
        return True
    return value.si > bound.si if least else value.si < bound.si
