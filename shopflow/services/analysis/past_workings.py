"""Calculation of past results: a test's rank, its sizes, and the band."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.calc.band import BandPoint, interpolated
from shopflow.calc.student import factor
from shopflow.calc.workings.working import Working, curve_in_numbers, si
from shopflow.sentences import FLOW_SHOWN
from shopflow.services.bench.bands import Band, Ranked, Ranking, latest_of_heads
from shopflow.services.bench.results import Result
from shopflow.services.bench.summaries import RANKING_PRESSURE, flow_shown
from shopflow.units import UnitSystem

SHOWN = (
    f"Shown as {FLOW_SHOWN}: area × ideal mass flux from {si(RANKING_PRESSURE)} Pa ÷ that density."
)
CURVE = "monotone cubic of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300"
SIZES = "as stated with the test, else as last measured before it"


def of_result(ranked: Ranked, ranking: Ranking, units: UnitSystem) -> list[Working]:
    """The figures a past test has among the others."""
    result = ranked.result
    return [_placed(ranked, ranking, units), _peak(result, units), *_sizes(result, units)]


def of_band(
    found: Sequence[Result], band: Band, point: BandPoint, units: UnitSystem
) -> list[Working]:
    """The figures of a band at one place."""
    latest = latest_of_heads(found)
    areas = [interpolated(result.curve(band.over), point.x) for result in latest]
    there = sorted(
        ((area, result) for area, result in zip(areas, latest, strict=True) if area is not None),
        key=lambda pair: pair[0],
    )
    listed = ", ".join(f"{si(area)} ({result.tag})" for area, result in there)
    return [*_quartiles(listed, len(there), band, point, units), *_next(listed, band, point, units)]


def _quartiles(
    listed: str, count: int, band: Band, point: BandPoint, units: UnitSystem
) -> list[Working]:
    named = {
        "least": ("Least", 0.0, point.least),
        "lower-quartile": ("Lower quartile", 0.25, point.lower_quartile),
        "median": ("Median", 0.5, point.median),
        "upper-quartile": ("Upper quartile", 0.75, point.upper_quartile),
        "most": ("Most", 1.0, point.greatest),
    }
    return [
        Working(
            key,
            name,
            "value at place 1 + (n − 1) p of the n areas in order, linear between neighbours",
            f"m², each head's latest test: {listed}; p {p:g}: place {1 + (count - 1) * p:g}: "
            f"{si(value)} m². {SHOWN}",
            units.text(flow_shown(value, band.side), "flow"),
            "type 7 of Hyndman and Fan, The American Statistician 50 (1996) 361",
        )
        for key, (name, p, value) in named.items()
    ]


def _next(listed: str, band: Band, point: BandPoint, units: UnitSystem) -> Iterator[Working]:
    if point.next_low is None or point.next_high is None:
        return
    shown = [
        units.text(flow_shown(area, band.side), "flow")
        for area in (point.next_low, point.next_high)
    ]
    yield Working(
        "next",
        "Next head, in about half of cases",
        "mean ± t × s × √(1 + 1/n), t for 50 % and n − 1 degrees of freedom",
        f"m², each head's latest test: {listed}; t {factor(0.5, point.count - 1):.4f}: "
        f"{si(point.next_low)} to {si(point.next_high)} m². {SHOWN}",
        " to ".join(shown),
        "prediction interval, NIST/SEMATECH e-Handbook, 7.1.6; heads independent, normally spread",
    )


def _placed(ranked: Ranked, ranking: Ranking, units: UnitSystem) -> Working:
    result = ranked.result
    drawn = curve_in_numbers(result.lifts, result.areas)
    others = f"place {ranked.place} of {len(ranking.ranked)}"
    if ranking.lifts is None:
        return Working(
            "mean",
            "Mean effective area over its own lifts",
            "integral of the curve ÷ (last − first lift)",
            f"m²: {drawn}; mean {si(result.mean_area)} m². {SHOWN} Placed by greatest area, as not "
            f"all have a lift in common: {others}.",
            units.text(result.mean_flow, "flow"),
            CURVE,
        )
    low, high = (si(1e3 * lift) for lift in ranking.lifts)
    return Working(
        "mean",
        "Mean effective area over the lifts that all have",
        "integral of the curve ÷ (highest − lowest lift)",
        f"from {low} to {high} mm of the curve {drawn}, m². Mean {si(ranked.mean)} m²: {others}. "
        f"{SHOWN}",
        units.text(ranked.mean_flow, "flow"),
        CURVE,
    )


def _peak(result: Result, units: UnitSystem) -> Working:
    place = result.areas.index(max(result.areas))
    return Working(
        "peak",
        "Greatest effective area",
        "the greatest of the lifts tested",
        f"{si(result.areas[place])} m² at {si(1e3 * result.lifts[place])} mm. {SHOWN}",
        units.text(result.peak_flow, "flow"),
        "definition",
    )


def _sizes(result: Result, units: UnitSystem) -> Iterator[Working]:
    sizes, diameter = result.setup, result.valve_diameter
    if result.throat_ratio is not None and sizes.throat_diameter is not None:
        yield Working(
            "throat-ratio",
            "Throat ratio",
            "throat diameter ÷ valve head diameter",
            f"{si(1e3 * sizes.throat_diameter)} ÷ {si(1e3 * diameter)} mm = "
            f"{result.throat_ratio:.4f}; {SIZES}",
            f"{result.throat_ratio:.3f}",
            "definition",
        )
    yield Working(
        "coefficient",
        "Greatest Cd on valve head area",
        "greatest over the lifts of effective area ÷ (π D² ÷ 4 × number of valves)",
        f"{result.peak_coefficient:.5f}; the working of each is on the page of the test",
        f"{result.peak_coefficient:.3f}",
        "Heywood (1988), section 6.3",
    )
    if result.low_lift_coefficient is not None:
        yield Working(
            "low-lift",
            "Mean Cd on curtain area at low lift",
            "mean of the coefficients at the lifts up to L/D 0.15",
            f"{result.low_lift_coefficient:.5f}; the working of each is on the page of the test",
            f"{result.low_lift_coefficient:.3f}",
            "that low lift ends at L/D 0.15 is common practice, no source",
        )
    if result.mean_velocity is not None and sizes.port_area is not None:
        yield Working(
            "velocity",
            "Mean velocity",
            "mean flow over the test's own lifts ÷ port area",
            f"{si(result.mean_flow)} m³/s ÷ {si(sizes.port_area)} m² = "
            f"{si(result.mean_velocity)} m/s; port area {SIZES}",
            units.text(result.mean_velocity, "velocity"),
            "definition; incompressible, a mean over the section",
        )
