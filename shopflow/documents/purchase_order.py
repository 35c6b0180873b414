"""Purchase order to a supplier."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents.shop import Display, Letterhead, Party


@dataclass(frozen=True)
class OrderedPart:
    """A line of an order."""

    number: str
    """The supplier's number of it."""

    description: str
    quantity: str
    """With its unit."""

    cost: Decimal | None
    amount: Decimal | None


@dataclass(frozen=True)
class PurchaseOrder:
    """Parts ordered of a supplier, and the day they are wanted."""

    shop: Letterhead
    display: Display
    supplier: Party
    contact: str
    account_number: str
    number: str
    placed_at: datetime | None
    """None of a draft, which says so across its pages."""

    placed_by: str
    expected_on: date | None
    notes: str
    lines: tuple[OrderedPart, ...]
    total: Decimal
    """Before tax, of the lines that have a cost."""

    cancelled: str
    """Reason why the order is cancelled; empty where it stands."""

    made_at: datetime
