"""The receipt of a payment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents.job import JobFacts
from shopflow.documents.shop import Display, Letterhead, Party


@dataclass(frozen=True)
class Receipt:
    """One payment on a job."""

    shop: Letterhead
    display: Display
    title: str
    customer: Party
    job: JobFacts
    heads: tuple[str, ...]
    number: str
    received_on: date
    amount: Decimal
    """Below zero where it was paid back."""

    method: str
    note: str
    recorded_by: str
    recorded_at: datetime
    left: Decimal
    """Left to pay when the receipt is printed; below zero in the customer's favor."""
