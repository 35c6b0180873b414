"""The invoice, and the credit note that takes one back."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents import snapshot
from shopflow.documents.e_invoice import ElectronicInvoice
from shopflow.documents.job import JobFacts
from shopflow.documents.money import MoneyLine, Tax
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey


@dataclass(frozen=True)
class Received:
    """Money that came in before an invoice was issued."""

    what: str
    amount: Decimal


@dataclass(frozen=True)
class Invoice:
    """An invoice or credit note as it is issued."""

    shop: Letterhead
    display: Display
    kind: str
    """ "Invoice", "Deposit invoice" or "Credit note"."""

    number: str
    issued_at: datetime
    issued_by: str
    customer: Party
    job: JobFacts
    heads: tuple[str, ...]
    lines: tuple[MoneyLine, ...]
    tax: Tax
    due_on: date | None = None
    received: tuple[Received, ...] = ()
    balance: Decimal = Decimal(0)
    payment_terms: str = ""
    payment_to: str = ""
    tax_number: str = ""
    credits: str = ""
    """The invoice credited, and its date."""

    reason: str = ""
    stands: Decimal | None = field(default=None, metadata=snapshot.LATER)
    """Balance of the invoice after a credit note in part."""

    is_deposit: bool = field(default=False, metadata=snapshot.LATER)
    """True where it asks for a deposit ahead of the work."""

    declined: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Work offered that the customer declined."""

    preview: bool = field(default=False, metadata=snapshot.LATER)
    """True where it is a preview: not issued, without a number."""

    signing_key: SigningKey | None = field(default=None, metadata=snapshot.LATER)
    """None for one that carries no signature."""

    electronic: ElectronicInvoice | None = field(default=None, metadata=snapshot.LATER)
    """None for one that does not carry itself as EN 16931."""
