"""An engine behind its ports: demand, air and power as intervals, and what customers reported."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from shopflow.calc.demand import Demand
from shopflow.calc.monte_carlo import Interval
from shopflow.calc.potential import Potential


@dataclass(frozen=True)
class ForecastRange:
    """A range behind a forecast, as typed."""

    name: str
    low: str
    high: str


@dataclass(frozen=True)
class SavedForecast:
    """A forecast as it stood when it was saved."""

    made_at: datetime
    cam: str
    test: str
    air: Interval
    """kg/s."""

    power: Interval | None
    """W."""


@dataclass(frozen=True)
class ReportedResult:
    """Result that a customer reported of the engine, and the forecast saved before."""

    key: int
    day: date
    kind: str
    figures: tuple[str, ...]
    """Quantities reported, as typed, each with its name."""

    source: str
    power: float | None
    """W, where it was measured at the crankshaft."""

    forecast: Interval | None
    """Of the power, the last one saved before the result was entered."""

    @property
    def is_inside(self) -> bool | None:
        """True where the power lies in the forecast; None where the two cannot be compared."""
        if self.power is None or self.forecast is None:
            return None
        return self.forecast.holds(self.power)


@dataclass(frozen=True)
class EngineView:
    """Demand of an engine on its intake, and air and power that the intake could give it."""

    speed: str
    cylinders: int
    displacement: float
    """Of all cylinders, m3."""

    mean_piston_speed: float
    """m/s."""

    demand: Demand
    potential: Potential | None
    missing: tuple[str, ...]
    """Sentences on what is not on record, and not calculated for it."""

    ranges: tuple[ForecastRange, ...]
    ranges_of: str
    """Fuel and induction, and whose ranges they are."""

    ranges_source: str
    is_stated: bool
    """False where the flow test states no uncertainty of its readings."""

    is_boosted: bool
    rev_limit: int | None = None
    """Of the job, rpm."""

    earlier: Demand | None = None
    """With the earlier flow test of the intake; None without one."""

    saved: SavedForecast | None = None
    reported: tuple[ReportedResult, ...] = ()
