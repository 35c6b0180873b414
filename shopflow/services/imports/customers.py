"""Customers and their contacts from CSV: one row a customer, or a further contact of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import Customer
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.imports.parties import Parties, Party
from shopflow.services.imports.planning import (
    Action,
    Plan,
    already_there,
    checked,
    listed,
    sorted_faults,
)
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.matching.fuzzy import plain
from shopflow.services.registry import customers
from shopflow.texts import gettext, lazy

COLUMNS = (
    Column("name", lazy("Names that differ only in capitals or accents are the same customer."),
           needed=True),
    Column("firm", lazy("yes or no; empty means no.")),
    Column("email", ""),
    Column("phone", ""),
    Column("address", ""),
    Column("tax rate", lazy("Percent, if it differs from the shop's rate.")),
    Column("tax exemption", lazy("Reason for the exemption.")),
    Column("exemption certificate", lazy("Number of the exemption certificate.")),
    Column("exemption valid until", lazy("Day, as 2026-12-31.")),
    Column("exemption kind", lazy("exempt, reverse charge, supply to another EU country, export "
           "outside the EU, or not subject to tax.")),
    Column("country", lazy("Two letters, as DE; empty for the shop's country.")),
    Column("vat number", lazy("With the letters of its country.")),
    Column("buyer reference", lazy("Printed on invoices.")),
    Column("notes", ""),
    Column("language", lazy("Of documents and mail: en_US or en_GB; empty for the shop's "
           "language.")),
    Column("contact name", lazy("A person at the customer. One row for each, with the "
           "customer's name repeated.")),
    Column("contact role", ""),
    Column("contact phone", ""),
    Column("contact email", ""),
)  # fmt: skip
EXAMPLES = (
    {"name": "Tarn Marine", "firm": "yes", "phone": "555 0101", "contact name": "Ada Reed"},
    {"name": "Orla Finch", "email": "orla@finch.example"},
)
YES_OR_NO = {"yes": True, "y": True, "no": False, "n": False}

FIELDS = {
    "name": "name",
    "email": "email",
    "phone": "phone",
    "address": "address",
    "tax_exemption": "tax exemption",
    "exemption_certificate": "exemption certificate",
    "exemption_valid_until": "exemption valid until",
    "exemption_kind": "exemption kind",
    "country": "country",
    "vat_id": "vat number",
    "buyer_reference": "buyer reference",
    "notes": "notes",
    "language": "language",
}
CONTACT = {
    "name": "contact name",
    "role": "contact role",
    "phone": "contact phone",
    "email": "contact email",
}


@dataclass(eq=False)
class _Additions:
    """A customer as it stands after the rows read so far."""

    party: Party
    filled: dict[str, Any] = field(default_factory=dict)
    """Values for empty fields of a customer on record."""

    contacts: list[dict[str, Any]] = field(default_factory=list)

    def value(self, name: str) -> Any:
        """Value of a field: filled in by the file, or else as recorded."""
        return self.filled.get(name) or (
            getattr(self.party.row, name) if self.party.row else self.party.values.get(name)
        )

    def has_contact(self, name: str) -> bool:
        """True where a contact of this name is on record already, or in the file above."""
        on_file = [contact.name for contact in self.party.row.contacts] if self.party.row else []
        names = [*on_file, *(contact["name"] for contact in self.contacts)]
        return plain(name) in map(plain, names)


def plan(db: Session, sheet: Sheet) -> Plan:
    """Plan the import of a file of customers."""
    sheet.refuse_other_headings()
    parties = Parties(db)
    wanted: dict[Party, _Additions] = {}
    actions = [
        action for record in sheet.records if (action := _row(sheet, parties, wanted, record))
    ]

    def write(db: Session, by: Actor) -> None:
        with audit_log.deferred(db, by):
            for customer in wanted.values():
                _write(db, by, customer)

    return Plan(actions, sorted_faults(sheet), write)


def _row(
    sheet: Sheet, parties: Parties, wanted: dict[Party, _Additions], record: Record
) -> Action | None:
    values = checked(sheet, record, customers.SPECIFICATION, FIELDS, _special(sheet, record))
    contact = checked(sheet, record, customers.CONTACT, CONTACT)
    if contact and "name" not in contact:
        sheet.fault(
            record.row,
            "contact name",
            gettext("required: the row has other details of this contact"),
        )
        return None
    party = parties.customer(sheet, record, "name")
    if party is None or not values:
        return None
    is_first = party.is_new and party not in wanted
    additions = wanted.setdefault(party, _Additions(party))
    news, unchanged = _take(additions, values)
    if contact and not additions.has_contact(contact["name"]):
        additions.contacts.append(contact)
        news.append(gettext("contact {name}", name=contact["name"]))
    if is_first:
        words = gettext("makes customer {name}", name=party.name)
        return Action(record.row, gettext("new customer"), words)
    if news:
        words = gettext("adds {news} to customer {name}", news=listed(news), name=party.name)
    else:
        words = gettext("customer {name} is on record", name=party.name)
    if unchanged:
        words = gettext("{words}; unchanged: {columns}", words=words, columns=listed(unchanged))
    return Action(record.row, gettext("added to a customer") if news else already_there(), words)


def _take(additions: _Additions, values: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Fill empty fields; return the names of those filled, and of those kept as recorded."""
    news, unchanged = [], []
    for name, value in values.items():
        if name in ("name", "is_firm") and not additions.party.is_new:
            continue
        before = additions.value(name)
        if name == "name" or before == value:
            continue
        if before not in (None, "", False):
            unchanged.append(name.replace("_", " "))
            continue
        (additions.party.values if additions.party.is_new else additions.filled)[name] = value
        news.append(name.replace("_", " "))
    return news, unchanged


def _special(sheet: Sheet, record: Record) -> dict[str, Any]:
    """Fields that are not plain text."""
    values: dict[str, Any] = {}
    firm = record.get("firm")
    if firm and firm.lower() not in YES_OR_NO:
        sheet.fault(record.row, "firm", gettext("'{firm}' is neither yes nor no", firm=firm))
    elif firm:
        values["is_firm"] = YES_OR_NO[firm.lower()]
    rate = record.get("tax rate")
    if rate:
        try:
            reader = customers.SPECIFICATION["tax_rate_percent"]
            values["tax_rate_percent"] = reader(sheet.number(rate).removesuffix("%"))
        except ValueError as error:
            sheet.fault(record.row, "tax rate", str(error))
    return values


def _write(db: Session, by: Actor, additions: _Additions) -> None:
    row: Customer | None = additions.party.row
    if row is None:
        row = additions.party.row = customers.create(db, by, additions.party.values)
    elif additions.filled:
        customers.change(db, by, row, additions.filled)
    for contact in additions.contacts:
        customers.add_contact(db, by, row, contact)
