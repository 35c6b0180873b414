"""Report of one engine type: what the shop's past heads of it gained, and by which work; SI."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.documents.job import Photo
from shopflow.documents.shop import Display, Letterhead


@dataclass(frozen=True)
class StepGain:
    """Gain of heads of a type by a set of steps between two tests, over the whole lift."""

    key: str
    """Of the steps, as forecasts know them."""

    steps: str
    side: str
    heads: int
    """Heads of this type that went through these steps, each counted once."""

    seen: str
    """Least and greatest gain of theirs, as "+2.1 to +6.4 %"; of one head with its ± for 95 %."""

    expected: str
    """Interval that nine of ten such heads should fall into; empty where too few are on record."""

    source: str
    """Heads behind the interval, as "from 9 heads, 4 of this engine type"."""


@dataclass(frozen=True)
class BestHead:
    """A head's best test after work, with its sizes and the work before it."""

    place: int
    tag: str
    tested: datetime
    mean_flow: float
    """Mean over the lifts all heads of the list have, or the peak where there are none, m3/s."""

    peak_flow: float
    peak_lift: float
    gain: str
    """Gain over the first test of its port; empty where it is the first."""

    valve_diameter: float
    valve_count: int
    seat_angle: float | None
    """Degrees, as the widths and ratios below: None where nobody wrote it down."""

    throat_ratio: float | None
    """Throat over valve head diameter."""

    port_area: float | None
    steps: str


@dataclass(frozen=True)
class SideOfType:
    """The best heads of one side of a type."""

    side: str
    lifts: tuple[float, float] | None
    """Lifts that all tests have, m; None where they are ranked by their peaks."""

    heads: int
    best: tuple[BestHead, ...]


@dataclass(frozen=True)
class EngineTypeReport:
    """Work and results of the past heads of an engine type."""

    shop: Letterhead
    display: Display
    name: str
    facts: tuple[tuple[str, str], ...]
    gains: tuple[StepGain, ...]
    sides: tuple[SideOfType, ...]
    photos: tuple[Photo, ...]
    """Of the best heads."""

    made_at: datetime

    @property
    def is_empty(self) -> bool:
        """True where no head of the type was tested after work."""
        return not self.gains and not any(side.best for side in self.sides)
