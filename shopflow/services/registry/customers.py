"""Customers: finding, adding and changing them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import Contact, Customer, ExemptionKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.matching.fuzzy import plain
from shopflow.services.shop import tax_ids
from shopflow.texts import LANGUAGES, gettext

SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "is_firm": fields.flag(),
    "email": fields.text(),
    "phone": fields.text(),
    "address": fields.words(),
    "tax_rate_percent": fields.decimal(),
    "tax_exemption": fields.text(),
    "exemption_certificate": fields.text(),
    "exemption_valid_until": fields.day(),
    "exemption_kind": fields.one_of(ExemptionKind),
    "country": tax_ids.country,
    "vat_id": tax_ids.vat_id,
    "buyer_reference": fields.text(),
    "notes": fields.words(),
    "open_data_consent": fields.flag(),
    "language": lambda value: fields.among(*LANGUAGES)(value) if value else "",
}
CONTACT: fields.Specification = {
    "name": fields.text(required=True),
    "role": fields.text(),
    "phone": fields.text(),
    "email": fields.text(),
}


def is_any(db: Session) -> bool:
    """True where there is a customer on record."""
    return db.scalar(select(Customer.id).limit(1)) is not None


def list_all(db: Session, text: str = "") -> list[Customer]:
    """Customers by name; those whose name, phone or e-mail holds the text, where one is given.

    Accents and capitals are left out of account, as databases do not agree on them.
    """
    wanted = plain(text.strip())
    customers = [
        customer
        for customer in db.scalars(select(Customer))
        if any(wanted in plain(field) for field in (customer.name, customer.phone, customer.email))
    ]
    return sorted(customers, key=lambda customer: (plain(customer.name), customer.id))


def contains(text: str) -> str:
    """A LIKE pattern for what holds this text, its own wildcards taken literally."""
    plain = text.strip().replace("\x00", "")
    for special in ("\\", "%", "_"):
        plain = plain.replace(special, "\\" + special)
    return f"%{plain}%"


def get(db: Session, customer_id: int) -> Customer:
    """The customer with this key. Raises NotFoundError."""
    customer = db.get(Customer, customer_id)
    if customer is None:
        raise NotFoundError(gettext("this customer does not exist"))
    return customer


def create(db: Session, by: Actor, values: Mapping[str, Any]) -> Customer:
    """Add a customer. Raises ValidationError."""
    clean = _signed(by, fields.require(SPECIFICATION, values, "name"), before=False)
    customer = Customer(**clean, created_at=by.at)
    db.add(customer)
    audit_log.record(db, by, customer, "added")
    return customer


def change(db: Session, by: Actor, customer: Customer, values: Mapping[str, Any]) -> Customer:
    """Change a customer. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    audit_log.change(db, by, customer, _signed(by, clean, before=customer.open_data_consent))
    return customer


def _signed(by: Actor, values: dict[str, Any], *, before: bool) -> dict[str, Any]:
    """The values, with who recorded consent to open data and when, where that changes."""
    if values.get("open_data_consent", before) == before:
        return values
    signed = {"open_data_consent_at": by.at, "open_data_consent_by_id": by.person_id}
    return {**values, **signed}


def add_contact(db: Session, by: Actor, customer: Customer, values: Mapping[str, Any]) -> Contact:
    """Add a person to ask for. Raises ValidationError."""
    contact = Contact(customer=customer, **fields.require(CONTACT, values, "name"))
    db.add(contact)
    audit_log.record(db, by, contact, "added")
    return contact
