"""Plates exchanged with other shops, each judged by its En number."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.en_number import en_number, is_satisfactory
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import BenchRange, PlateExchange
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext


def _day(value: Any) -> date:
    day: date | None = fields.day()(value)
    if day is None:
        raise ValueError(gettext("required: enter a value"))
    return day


SPECIFICATION: fields.Specification = {
    "plate": fields.text(required=True),
    "other_shop": fields.text(required=True),
    "measured_on": _day,
    "pressure": fields.quantity("pressure", required=True, above=0.0),
    "own_flow": fields.quantity("volume flow", required=True, above=0.0),
    "own_uncertainty": fields.quantity("ratio", required=True, above=0.0),
    "their_flow": fields.quantity("volume flow", required=True, above=0.0),
    "their_uncertainty": fields.quantity("ratio", required=True, above=0.0),
    "notes": fields.words(),
}


def get(db: Session, key: int) -> PlateExchange:
    """The exchange with this key. Raises NotFoundError."""
    row = db.get(PlateExchange, key)
    if row is None:
        raise NotFoundError(gettext("this plate exchange does not exist"))
    return row


def record(
    db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]
) -> PlateExchange:
    """Record a plate that both shops measured. Raises ValidationError."""
    required = [name for name in SPECIFICATION if name != "notes"]
    clean = fields.require(SPECIFICATION, values, *required)
    if clean["measured_on"] > by.at.date():
        words = gettext("enter a day that is past")
        raise ValidationError([FieldError("measured_on", words)])
    row = PlateExchange(at=by.at, person_id=by.person_id, **clean)
    bench_range.exchanges.append(row)
    number = {"number": f"{score(row):+.2f}".replace("-", "−")}
    audit_log.record(db, by, row, "recorded", note=gettext("En {number}", **number))
    return row


def score(row: PlateExchange) -> float:
    """The En number of this shop's result against the other's."""
    own, their = row.own_flow.si, row.their_flow.si
    return en_number(own, their, row.own_uncertainty.si * own, row.their_uncertainty.si * their)


def verdict(row: PlateExchange) -> str:
    """The verdict on an exchange, in words."""
    if is_satisfactory(score(row)):
        return gettext("satisfactory: the shops agree within what they state")
    return gettext("not satisfactory: they differ by more than they state")
