"""A job, the work on its heads, and their documents."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from shopflow.documents.bench_lines import NONE, BenchLines
from shopflow.documents.chambers import Chambers
from shopflow.documents.head import Figure, HeadIdentity, Measured, Tested, ValveFigures
from shopflow.documents.placed import PlaceTable, SectionTable, ValveTable
from shopflow.documents.seat import SeatSheet
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey
from shopflow.documents.snapshot import LATER
from shopflow.documents.springs import SpringSide
from shopflow.texts import gettext


@dataclass(frozen=True)
class JobFacts:
    """Facts about the job."""

    number: str
    booked_in: datetime
    promised_on: date | None = None
    purpose: str = ""
    induction: str = ""
    boost: str = ""
    rev_limit: str = ""
    fuel: str = ""
    intake_lift: str = ""
    exhaust_lift: str = ""
    asked_for: str = ""
    approval: str = ""
    order_number: str = field(default="", metadata=LATER)
    """The customer's own number of the order."""


@dataclass(frozen=True)
class Step:
    """One operation of a routing."""

    name: str
    instructions: str = ""
    planned_minutes: int = 0
    state: str = "planned"
    by: str = ""
    at: datetime | None = None
    note: str = ""
    blanks: tuple[str, ...] = ()
    """Measurements it should leave behind that are not recorded yet and belong to no place."""

    tables: tuple[PlaceTable, ...] = ()
    """Measurements it should leave behind by place, as far as they are recorded."""

    cautions: tuple[str, ...] = ()
    """Keys of its hazards."""

    remarks: tuple[str, ...] = ()
    """Remarks: a repeat, a cut that must wait, or a release with its user."""

    released: bool = False
    """True where the owner lets it be cut ahead of the customer's approval."""


@dataclass(frozen=True)
class Photo:
    """A picture of a head, as JPEG or PNG, and what it shows."""

    caption: str
    image: bytes


@dataclass(frozen=True)
class WorkOrderHead:
    """One head's page of a work order."""

    head: HeadIdentity
    steps: tuple[Step, ...]
    measured: tuple[Measured, ...]
    cautions: tuple[str, ...]
    """Keys of the hazards of exactly the steps still open."""

    url: str = ""
    photos: tuple[Photo, ...] = ()
    tested: tuple[Tested, ...] = ()
    tables: tuple[PlaceTable, ...] = ()
    """Measurements by place; `measured` holds the others, and those decided on."""
    seats: tuple[SeatSheet, ...] = ()
    """Seats as cut or to be cut, each distinct profile once."""
    sections: tuple[SectionTable, ...] = ()
    lines: BenchLines = NONE


@dataclass(frozen=True)
class WorkOrder:
    """A job's work order."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    heads: tuple[WorkOrderHead, ...]
    printed_at: datetime
    lines: BenchLines = NONE
    """Those of no head."""


@dataclass(frozen=True)
class HandOff:
    """A hand-off sheet for one head."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    head: HeadIdentity
    addressee: str
    valves: tuple[ValveFigures, ...]
    figures: tuple[Figure, ...]
    measured: tuple[Measured, ...]
    to_check: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: str
    signed_by: str
    signed_at: datetime | None
    written_at: datetime
    tested: tuple[Tested, ...] = ()
    seats: tuple[SeatSheet, ...] = ()
    """Seats as cut, each distinct profile once."""

    remaining: tuple[str, ...] = ()
    """Steps that are still to be done on the head."""

    done: tuple[str, ...] = ()
    """Steps that were done on it, in their order."""

    springs_to_check: str = ""
    """Sentence: valves whose springs nobody measured; empty where all are."""

    boosted: bool = False
    """True where the engine is charged above the outside air."""

    springs: tuple[SpringSide, ...] = ()
    """The sides of which something is known."""

    chambers: Chambers | None = None
    by_valve: ValveTable | None = None
    """Every valve as measured; none where its head's places are not known."""

    signing_key: SigningKey | None = None
    """None for one that carries no signature."""

    @property
    def title(self) -> str:
        """Title of the sheet; an unfinished head is called part-finished."""
        if self.remaining:
            return gettext("Hand-off of part-finished head {head}", head=self.head.tag)
        return gettext("Hand-off of head {head}", head=self.head.tag)
