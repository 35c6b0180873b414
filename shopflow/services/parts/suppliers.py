"""Suppliers of parts and vendors of outside work."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Supplier
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.messaging import smtp_settings
from shopflow.texts import gettext


def _email(value: Any) -> str:
    address = str(fields.text()(value))
    return smtp_settings.one_address(address) if address else ""


SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "contact": fields.text(),
    "email": _email,
    "phone": fields.text(),
    "address": fields.words(),
    "account_number": fields.text(),
    "notes": fields.words(),
    "active": fields.flag(),
}


def get(db: Session, supplier_id: int) -> Supplier:
    """The supplier with this key. Raises NotFoundError."""
    row = db.get(Supplier, supplier_id)
    if row is None:
        raise NotFoundError(gettext("this supplier does not exist"))
    return row


def list_all(db: Session, *, active: bool = False) -> list[Supplier]:
    """Suppliers by name, or only those still used."""
    query = select(Supplier).order_by(func.lower(Supplier.name))
    return list(db.scalars(query.where(Supplier.active) if active else query))


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> Supplier:
    """Add a supplier. Raises ValidationError."""
    clean = fields.require(SPECIFICATION, values, "name")
    _must_be_new(db, clean["name"])
    row = Supplier(**clean)
    db.add(row)
    audit_log.record(db, by, row, "added", note=row.name)
    return row


def change(db: Session, by: Actor, row: Supplier, values: Mapping[str, Any]) -> Supplier:
    """Change a supplier. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    if clean.get("name", row.name) != row.name:
        _must_be_new(db, clean["name"])
    audit_log.change(db, by, row, clean)
    return row


def chosen(db: Session, value: Any, field: str = "supplier_id") -> Supplier | None:
    """The supplier chosen in a form; none where blank. Raises ValidationError at the field."""
    if value in (None, "", 0):
        return None
    key = int(value) if str(value).isdecimal() else 0
    row = db.get(Supplier, key)
    if row is None:
        raise ValidationError([FieldError(field, gettext("choose a supplier"))])
    return row


def _must_be_new(db: Session, name: str) -> None:
    if db.scalar(select(Supplier.id).where(Supplier.name == name)) is not None:
        raise ValidationError(
            [FieldError("name", gettext("'{name}' is on the list already", name=name))]
        )
