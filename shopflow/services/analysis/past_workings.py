"""Workings of past results, from what is on record of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.calc.band import BandPoint, interpolated
from shopflow.calc.workings import past
from shopflow.calc.workings.past import Shown, Tested
from shopflow.calc.workings.working import Working, si
from shopflow.sentences import FLOW_SHOWN
from shopflow.services.bench.bands import Band, Ranked, Ranking, latest_of_heads
from shopflow.services.bench.past_tests import Result
from shopflow.services.bench.summaries import RANKING_PRESSURE, flow_shown
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem

NOTE = lazy(
    "Shown as {flow_shown}: area × ideal mass flux from {ranking_pressure} Pa ÷ that density.",
    flow_shown=FLOW_SHOWN,
    ranking_pressure=si(RANKING_PRESSURE),
)


def of_result(ranked: Ranked, ranking: Ranking, units: UnitSystem) -> list[Working]:
    """The results that a past test has among the others."""
    result = ranked.result
    test, shown = Tested(result.lifts, result.areas), _shown(result.side, units)
    mean = result.mean_area if ranking.lifts is None else ranked.mean
    rank = gettext("place {place} of {ranked}", place=ranked.place, ranked=len(ranking.ranked))
    return [
        past.of_mean(test, mean, ranking.lifts, rank, shown),
        past.of_peak(test, shown),
        *_sizes(result, units),
    ]


def of_band(
    tests: Sequence[Result], band: Band, point: BandPoint, units: UnitSystem
) -> list[Working]:
    """The results of a band at one place."""
    latest = latest_of_heads(tests)
    areas = [(interpolated(result.curve(band.over), point.x), result.tag) for result in latest]
    covered = [(area, tag) for area, tag in areas if area is not None]
    return past.of_band(covered, point, _shown(band.side, units))


def _shown(side: str, units: UnitSystem) -> Shown:
    return Shown(lambda area: units.text(flow_shown(area, side), "flow"), NOTE)


def _sizes(result: Result, units: UnitSystem) -> Iterator[Working]:
    sizes = result.setup
    if sizes.throat_diameter:
        yield past.of_throat(sizes.throat_diameter, result.valve_diameter)
    yield past.of_peak_coefficient(result.peak_coefficient)
    if result.low_lift_coefficient is not None:
        yield past.of_low_lift(result.low_lift_coefficient)
    if sizes.port_area:
        yield past.of_velocity(result.mean_flow, sizes.port_area, units)
