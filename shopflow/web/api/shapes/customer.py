"""Customers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models


@dataclass(frozen=True)
class Contact:
    """Someone to ask for at a customer's."""

    name: str
    role: str
    phone: str
    email: str


@dataclass(frozen=True)
class Customer:
    """A person or firm."""

    id: int
    name: str
    is_firm: bool
    email: str
    phone: str
    address: str
    notes: str
    language: str
    created_at: datetime
    contacts: list[Contact]

    @classmethod
    def of(cls, row: models.Customer) -> Customer:
        """A customer on record."""
        return cls(
            id=row.id,
            name=row.name,
            is_firm=row.is_firm,
            email=row.email,
            phone=row.phone,
            address=row.address,
            notes=row.notes,
            language=row.language,
            created_at=row.created_at,
            contacts=[
                Contact(contact.name, contact.role, contact.phone, contact.email)
                for contact in row.contacts
            ],
        )
