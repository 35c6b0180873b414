"""The receipt of a collection."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow.documents.job import JobFacts
from shopflow.documents.shop import Display, Letterhead, Party
from shopflow.texts import gettext


@dataclass(frozen=True)
class PartBack:
    """One kind of part that came in with a head."""

    tag: str
    name: str
    received: int
    returned: int
    word: str = ""
    """Explanation of the rest, where not all went back."""


@dataclass(frozen=True)
class CollectionReceipt:
    """Heads and parts that left the shop on one job."""

    shop: Letterhead
    display: Display
    customer: Party
    job: JobFacts
    heads: tuple[str, ...]
    shipped: bool
    handed_to: str
    handed_on: date
    handed_over_by: str
    recorded_at: datetime
    parts: tuple[PartBack, ...] = ()
    papers: tuple[str, ...] = ()
    carrier: str = ""
    parcels: int | None = None
    tracking_number: str = ""
    packed_by: str = ""
    balance: Decimal = Decimal(0)
    remarks: str = ""

    @property
    def title(self) -> str:
        """Title of the document."""
        return gettext("Dispatch note") if self.shipped else gettext("Collection receipt")
