"""The cards for the flow bench."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.documents.head import HeadIdentity
from shopflow.documents.job import JobFacts
from shopflow.documents.shop import Display, Letterhead, Party


@dataclass(frozen=True)
class ValveSizes:
    """A size of the valves: what it is, and as typed on either side; empty to be measured."""

    name: str
    intake: str = ""
    exhaust: str = ""


@dataclass(frozen=True)
class BenchHead:
    """One head's card."""

    head: HeadIdentity
    lifts: tuple[str, ...]
    """Lifts to test at, as typed, with unit; none leaves them to be written in."""

    sizes: tuple[ValveSizes, ...]
    url: str = ""


@dataclass(frozen=True)
class BenchCard:
    """A job's cards."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    heads: tuple[BenchHead, ...]
    printed_at: datetime
