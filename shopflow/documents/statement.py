"""Statement of a customer's account."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents.shop import Display, Letterhead, Party


@dataclass(frozen=True)
class StatementEntry:
    """An invoice, credit note, payment or refund."""

    on: date
    what: str
    job: str
    amount: Decimal
    """Added to what the customer owes; below zero for what lowers it."""

    balance: Decimal
    """After this entry."""


@dataclass(frozen=True)
class OpenItem:
    """An invoice that is not paid in full."""

    number: str
    job: str
    due_on: date
    open: Decimal
    days_overdue: int


@dataclass(frozen=True)
class Statement:
    """All that was invoiced to a customer and paid, and what is open."""

    shop: Letterhead
    display: Display
    customer: Party
    entries: tuple[StatementEntry, ...]
    open_items: tuple[OpenItem, ...]
    ages: tuple[tuple[str, Decimal], ...]
    """Groups by days overdue with their amounts, those that have one."""

    balance: Decimal
    """Below zero in the customer's favor."""

    payment_to: str
    made_at: datetime
