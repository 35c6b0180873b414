"""Saved lists of lifts: making, changing and removing them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import LiftList
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.testfile.keys import LENGTHS
from shopflow.texts import gettext

MOST_LIFTS = 60


def list_all(db: Session) -> list[LiftList]:
    """Every list, by name."""
    return list(db.scalars(select(LiftList).order_by(LiftList.name)))


def get(db: Session, list_id: int) -> LiftList:
    """The list with this key. Raises NotFoundError."""
    lift_list = db.get(LiftList, list_id)
    if lift_list is None:
        raise NotFoundError(gettext("this lift list does not exist"))
    return lift_list


def create(db: Session, by: Actor, values: Mapping[str, Any]) -> LiftList:
    """Save a list; `lifts` are numbers with spaces, lines or semicolons between them.

    Raises ValidationError.
    """
    lift_list = LiftList(**_read(db, values, but=None))
    db.add(lift_list)
    audit_log.record(db, by, lift_list, "saved")
    return lift_list


def change(db: Session, by: Actor, row: LiftList, values: Mapping[str, Any]) -> LiftList:
    """Change a list; tests taken by it keep their lifts. Raises ValidationError."""
    audit_log.change(db, by, row, _read(db, values, but=row))
    return row


def remove(db: Session, by: Actor, row: LiftList) -> None:
    """Take a list off; tests taken by it keep their lifts."""
    audit_log.record(db, by, row, "removed", note=row.name)
    db.delete(row)
    db.flush()


def _read(db: Session, values: Mapping[str, Any], but: LiftList | None) -> dict[str, Any]:
    clean = fields.require(SPECIFICATION, values, "name", "unit", "lifts")
    same = db.scalar(select(LiftList).where(LiftList.name == clean["name"]))
    if same is not None and same is not but:
        raise ValidationError([FieldError("name", gettext("this name is taken: enter another"))])
    return clean


def _unit(value: Any) -> str:
    if value not in LENGTHS:
        raise ValueError(gettext("one of {lengths}", lengths=", ".join(LENGTHS)))
    return str(value)


def lifts(value: Any) -> list[str]:
    """Lifts as typed. Raises ValueError for what is no rising row of them."""
    typed = str(value or "").replace(";", " ").split()
    if not typed:
        raise ValueError(gettext("no lifts: enter at least one"))
    if len(typed) > MOST_LIFTS:
        raise ValueError(
            gettext(
                "{count} lifts are too many: enter at most {most_lifts}",
                count=len(typed),
                most_lifts=MOST_LIFTS,
            )
        )
    numbers = [_number(text) for text in typed]
    for before, after, text in zip(numbers, numbers[1:], typed[1:], strict=False):
        if after <= before:
            raise ValueError(
                gettext("'{text}' is not above the lift before it: enter rising lifts", text=text)
            )
    return typed


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation:
        message = (
            gettext("'{text}' is not a number: write decimals with a point", text=text[:20])
            if "," in text
            else gettext("'{text}' is not a number", text=text[:20])
        )
        raise ValueError(message) from None
    if not (number.is_finite() and number > 0 and len(text) <= 12):
        raise ValueError(gettext("'{text}' is not a lift: enter a lift above 0", text=text[:20]))
    return number


SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "unit": _unit,
    "lifts": lifts,
}
