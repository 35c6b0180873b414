"""The inspection report: what was found on a job's heads, and what is proposed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from shopflow.documents.head import HeadIdentity, Measured, Tested
from shopflow.documents.job import JobFacts, Photo
from shopflow.documents.placed import PlaceTable, SectionTable
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey


@dataclass(frozen=True)
class ProposedStep:
    """A step that is still open, and the findings it answers."""

    name: str
    reason: str = ""
    price: Decimal | None = None
    """As the quote has it; None where it gives none."""

    state: str = ""
    """"declined", or "not approved yet" for extra work; empty otherwise."""


@dataclass(frozen=True)
class InspectedHead:
    """One head as it was before metal was cut."""

    head: HeadIdentity
    inspected_by: tuple[str, ...]
    """Each with the day, as "Ruth Halvane, Mar 5, 2026"."""

    tables: tuple[PlaceTable, ...]
    others: tuple[Measured, ...]
    """Values that belong to no table: the head as a whole, or a spot along a port."""

    tested: tuple[Tested, ...]
    photos: tuple[Photo, ...]
    proposed: tuple[ProposedStep, ...]
    sections: tuple[SectionTable, ...] = ()

    @property
    def outside(self) -> int:
        """Values outside their limits."""
        in_others = sum(item.is_outside for item in self.others)
        return in_others + sum(table.outside for table in self.tables)

    @property
    def failed(self) -> int:
        """Tests that found what needs a repair or cannot be repaired."""
        return sum(item.is_failed for item in self.tested)


@dataclass(frozen=True)
class InspectionReport:
    """Findings on a job's heads, and what is proposed: the quote's companion."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    heads: tuple[InspectedHead, ...]
    made_at: datetime
    quote: str = ""
    """Number of the quote that the prices are of; empty where none was given."""

    signing_key: SigningKey | None = None
    """None for one that carries no signature."""
