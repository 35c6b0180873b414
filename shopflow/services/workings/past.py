"""How the figures of past results came about: a test's place, its sizes, and the band."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.calc.band import BandPoint, interpolated
from shopflow.services.bands import Band, Ranked, Ranking
from shopflow.services.results import Result
from shopflow.services.workings.working import Working, curve_in_numbers, si
from shopflow.units import UnitSystem

AT_28 = "Flows are stated at 28 inH₂O: each flow × √(6974.3 Pa ÷ its own reference pressure)."
SIZES = "as stated with the test, else as last measured before it"


def of_result(ranked: Ranked, ranking: Ranking, units: UnitSystem) -> list[Working]:
    """The figures a past test has among the others."""
    result = ranked.result
    return [_placed(ranked, ranking, units), _peak(result, units), *_sizes(result, units)]


def of_band(
    found: Sequence[Result], band: Band, point: BandPoint, units: UnitSystem
) -> list[Working]:
    """The five figures of a band at one place."""
    curves = [result.curve(band.over) for result in found]
    flows = [interpolated(curve, point.x) for curve in curves]
    there = sorted(
        ((flow, result) for flow, result in zip(flows, found, strict=True) if flow is not None),
        key=lambda pair: pair[0],
    )
    listed = ", ".join(f"{si(flow)} ({result.tag})" for flow, result in there)
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
            "value at place 1 + (n − 1) p of the n flows in order, linear between neighbours",
            f"m³/s: {listed}; p {p:g}: place {1 + (len(there) - 1) * p:g}: {si(value)} m³/s",
            units.text(value, "flow"),
            "type 7 of Hyndman and Fan, The American Statistician 50 (1996) 361",
        )
        for key, (name, p, value) in named.items()
    ]


def _placed(ranked: Ranked, ranking: Ranking, units: UnitSystem) -> Working:
    result = ranked.result
    drawn = curve_in_numbers(result.lifts, result.flows)
    others = f"place {ranked.place} of {len(ranking.ranked)}"
    if ranking.lifts is None:
        return Working(
            "mean",
            "Mean flow over its own lifts",
            "area under the curve, straight from point to point ÷ (last − first lift)",
            f"m³/s: {drawn}. {AT_28} Placed by peak flow, as not all have a lift in common: "
            f"{others}.",
            units.text(result.mean_flow, "flow"),
            "trapezoid rule",
        )
    low, high = (si(1e3 * lift) for lift in ranking.lifts)
    return Working(
        "mean",
        "Mean flow over the lifts that all have",
        "area under the curve, straight from point to point ÷ (highest − lowest lift)",
        f"from {low} to {high} mm of the curve {drawn}, m³/s. {AT_28} Mean {si(ranked.mean)} "
        f"m³/s: {others}.",
        units.text(ranked.mean, "flow"),
        "trapezoid rule",
    )


def _peak(result: Result, units: UnitSystem) -> Working:
    place = result.flows.index(max(result.flows))
    return Working(
        "peak",
        "Peak flow",
        "the greatest flow of the test",
        f"{si(result.flows[place])} m³/s at {si(1e3 * result.lifts[place])} mm. {AT_28}",
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
        f"{result.peak_coefficient:.5f}; each is worked out on the page of the test",
        f"{result.peak_coefficient:.3f}",
        "Heywood (1988), section 6.3",
    )
    if result.low_lift_coefficient is not None:
        yield Working(
            "low-lift",
            "Mean Cd on curtain area at low lift",
            "mean of the coefficients at the lifts up to L/D 0.15",
            f"{result.low_lift_coefficient:.5f}; each is worked out on the page of the test",
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
