"""A swirl or tumble test, as page and paper show it; SI."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.documents.head import HeadIdentity
from shopflow.documents.shop import Display, Letterhead


@dataclass(frozen=True)
class SwirlPoint:
    """Results at one lift; named as in `calc.swirl_results`."""

    lift: float
    runs: int
    cd_head: float
    angular_momentum_flux: float
    angular_momentum_per_mass: float
    coefficient_indicated: float
    coefficient_indicated_margin: float | None
    """Expanded uncertainty for 95 %, as the other; None where it is not stated."""

    coefficient: float | None
    """None where the meter's efficiency is not known."""

    coefficient_margin: float | None

    @property
    def best(self) -> tuple[float, float | None]:
        """The coefficient with its uncertainty; as indicated where there is no other."""
        if self.coefficient is None:
            return self.coefficient_indicated, self.coefficient_indicated_margin
        return self.coefficient, self.coefficient_margin


@dataclass(frozen=True)
class SwirlThroughCam:
    """Ratio of a test through one cam."""

    cam: str
    over_cam: float
    """By constant pressure drop over the open period."""

    over_cam_margin: float | None
    by_piston: float | None
    """By piston speed from top to bottom dead center."""

    by_piston_margin: float | None
    share_beyond: float
    """Share of the open period above the last lift read."""


@dataclass(frozen=True)
class SwirlResult:
    """A test with its results.

    A certificate keeps it as it stands: a field added to it or to its parts later has
    `metadata=snapshot.LATER`.
    """

    motion: str
    """Swirl or tumble."""

    test: str
    """The flow test's name."""

    test_file: str
    """Name of its file where it is attached."""

    meter_kind: str
    meter: str
    bore: str
    """As typed, as the pressure."""

    adapter: str
    rotation: str
    pressure: str
    velocity: float
    """Of the ideal flow at that pressure, m/s."""

    efficiency: str
    """As typed; empty where it is not known, as its uncertainty in percent (k = 2)."""

    efficiency_uncertainty: str
    is_torque: bool
    points: tuple[SwirlPoint, ...]
    ratios: tuple[SwirlThroughCam, ...]
    reverses_below: float | None
    """Lift below which the air turns the other way, m."""

    is_outside_published: bool
    """True where the efficiency lies outside what is published for its kind of meter."""

    notes: str = ""

    @property
    def is_corrected(self) -> bool:
        """True where the meter's efficiency is known."""
        return bool(self.efficiency)


@dataclass(frozen=True)
class SwirlSheet:
    """The sheet of a swirl or tumble test."""

    shop: Letterhead
    display: Display
    head: HeadIdentity
    job: str
    content: SwirlResult
    made_at: datetime


@dataclass(frozen=True)
class SwirlComparison:
    """Two tests of one port: coefficients where both cover the lift, and the verdict."""

    before: str
    after: str
    rows: tuple[tuple[float, float, float, float | None], ...]
    """Lift, both coefficients, and the expanded uncertainty of the difference."""

    mean: tuple[float, float, float | None] | None
    """Both means over the lifts that both cover, and the uncertainty of their difference; None
    where they have no lifts in common."""

    is_corrected: bool
    verdict: str
    """Empty where none may be given."""

    reasons: tuple[str, ...]
    """Reasons for giving none."""

    caution: str = ""
