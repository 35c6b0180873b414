"""A section of a port traversed with a pitot probe, as page and paper show it; SI."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.calc.traverse import Traverse, TraversedSection
from shopflow.documents.head import HeadIdentity
from shopflow.documents.shop import Display, Letterhead


@dataclass(frozen=True)
class MapOfSection:
    """The section, the velocity at each of its places, and what they come to."""

    section: TraversedSection
    results: Traverse
    bench_flow: float
    """At the test pressure and the density of the room, m3/s."""

    energy: float
    """Kinetic energy of that flow if it were even over the section, W."""

    test: str
    """The flow test's name."""

    side: str
    lift: str
    place: str
    size: str
    """Outline with width and height, as typed."""

    notes: str = ""

    @property
    def flow_ratio(self) -> float:
        """Flow by the probe over that of the bench."""
        return self.results.flow / self.bench_flow


@dataclass(frozen=True)
class VelocityMapSheet:
    """The sheet of a velocity map."""

    shop: Letterhead
    display: Display
    head: HeadIdentity
    job: str
    content: MapOfSection
    made_at: datetime
