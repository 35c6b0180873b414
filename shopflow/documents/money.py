"""Lines with prices, and the tax on them, of quotes and invoices."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.documents.snapshot import LATER


@dataclass(frozen=True)
class MoneyLine:
    """One piece of work and its price before tax."""

    head: str
    """Tag of the head it is done to."""

    what: str
    price: Decimal
    detail: str = ""
    minutes: int = 0
    waived: Decimal = field(default=Decimal(0), metadata=LATER)
    """Part of the usual price that the shop bears itself, under warranty."""


@dataclass(frozen=True)
class Tax:
    """The tax on a paper's lines."""

    net: Decimal
    rate_percent: Decimal
    tax: Decimal
    total: Decimal
    label: str = "Tax"
    exemption: str = ""
    """Reason why no tax is due, where the customer is exempt."""

    @property
    def name(self) -> str:
        """As "Sales tax 8.25 %"."""
        rate = f"{self.rate_percent:f}"
        rate = rate.rstrip("0").rstrip(".") if "." in rate else rate
        return f"{self.label} {rate} %"
