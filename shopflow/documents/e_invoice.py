"""Statements of an invoice as EN 16931 that its paper has no other place for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

FILE = "factur-x.xml"
"""Name of the file inside, by which readers know it."""


def in_groups(number: str) -> str:
    """An IBAN as people read it, in groups of four.

    >>> in_groups("DE89370400440532013000")
    'DE89 3704 0044 0532 0130 00'
    """
    return " ".join(number[at : at + 4] for at in range(0, len(number), 4))


@dataclass(frozen=True)
class ElectronicInvoice:
    """Parties, account and references of an invoice that carries itself as EN 16931 inside."""

    country: str
    """Of the shop, as ISO 3166-1 alpha-2 has it."""

    customer_country: str
    vat_id: str = ""
    customer_vat_id: str = ""
    buyer_reference: str = ""
    """Reference that the customer routes invoices by (BT-10)."""

    iban: str = ""
    bic: str = ""
    supplied_on: date | None = None
    """Day on which the work invoiced was done; none for a deposit."""

    credits_number: str = ""
    """Number of the invoice that a credit note credits, and its day."""

    credits_on: date | None = None
