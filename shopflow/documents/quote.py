"""The quote."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents.job import JobFacts
from shopflow.documents.money import MoneyLine, Tax
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey
from shopflow.documents.snapshot import LATER
from shopflow.sentences import FORECAST_CAVEAT
from shopflow.texts import gettext


@dataclass(frozen=True)
class Quote:
    """A quote as it is given."""

    shop: Letterhead
    display: Display
    number: str
    revision: int
    given_at: datetime
    given_by: str
    valid_until: date
    customer: Party
    job: JobFacts
    heads: tuple[str, ...]
    """Each head in words, as "2026-0041-A: Trewarrick Gannet Four, casting TM-4417-C"."""

    lines: tuple[MoneyLine, ...]
    tax: Tax
    extras: tuple[MoneyLine, ...] = ()
    """Work that was no part of the quote agreed before."""

    agreed: str = ""
    """The quote agreed before, and when; empty on a first one."""

    deposit: Decimal = Decimal(0)
    conditions: str = ""
    payment_terms: str = ""
    draft: bool = False
    declined: tuple[str, ...] = field(default=(), metadata=LATER)
    """Work of an earlier revision that the customer declined."""

    forecasts: tuple[str, ...] = field(default=(), metadata=LATER)
    """Forecasts of the work in words, where the shop prints them."""

    signing_key: SigningKey | None = field(default=None, metadata=LATER)
    """None for one that carries no signature."""

    @property
    def forecast_note(self) -> str:
        """Meaning of the forecasts."""
        return str(FORECAST_CAVEAT)

    @property
    def title(self) -> str:
        """Number with its revision."""
        return (
            self.number
            if self.revision == 1
            else gettext("{number} revision {revision}", number=self.number, revision=self.revision)
        )
