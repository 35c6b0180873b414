"""How the figures of a comparison came about: gains, spreads, ratios, and means over a part."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc.reduction import Reduction
from shopflow.calc.spread import SpreadPoint
from shopflow.calc.worth import Step
from shopflow.services.comparisons import Difference, Ports, SideRatio
from shopflow.services.workings.working import Working, curve_in_numbers, si
from shopflow.units import UnitSystem

CORRELATED = "JCGM 100:2008, 5.2 and F.1.2: what both have in common acts on the difference alone"
WORDS = {"whole": "all lifts in common", "low": "low lift", "mid": "mid lift", "high": "high lift"}
INTERPOLATED = "between two lifts a curve is taken as straight"


def of_difference(found: Difference, place: int, units: UnitSystem) -> list[Working]:
    """The gain at one of a difference's lifts, from 0."""
    held, point = found.held, found.comparison.points[place]
    before, after = si(point.before), si(point.after)
    parts = (held.u_before, held.u_after, held.common * held.gain)
    return [
        Working(
            "gain",
            "Difference in flow",
            "later − earlier, both at this lift",
            f"{after} − {before} m³/s = {si(point.gain)} m³/s",
            units.text(point.gain, "flow"),
            f"definition; {INTERPOLATED}",
        ),
        Working(
            "percent",
            "Difference in per cent",
            "100 × (later − earlier) ÷ earlier",
            f"100 × {si(point.gain)} ÷ {before} = {point.gain_percent:+.3f} %".replace("-", "−"),
            f"{point.gain_percent:+.1f} %".replace("-", "−"),
            "definition",
        ),
        _uncertainty(
            [float(part[place]) for part in parts],
            point.gain_expanded_uncertainty,
            found.states_uncertainty,
            units,
        ),
        _verdict(point.gain, point.gain_expanded_uncertainty, found.states_uncertainty),
    ]


def of_ports(found: Ports, place: int, units: UnitSystem) -> list[Working]:
    """The spread at one lift of the ports side by side, from 0."""
    point, brought = found.points[place], found.alike
    flows = [float(flow) for flow in brought.flow[:, place]]
    listed = "; ".join(
        f"{member.name} {si(flow)}" for member, flow in zip(found.members, flows, strict=True)
    )
    low, high = flows[point.lowest], flows[point.highest]
    u = brought.standard_uncertainty[:, place]
    common = float(brought.common[place]) * point.difference
    return [
        Working(
            "mean",
            "Mean of the ports",
            "sum of the flows ÷ number of ports",
            f"m³/s: {listed}; mean {si(point.mean)}",
            units.text(point.mean, "flow"),
            f"definition; {INTERPOLATED}",
        ),
        Working(
            "deviation",
            "Standard deviation of the ports",
            "s = √(Σ (q − mean)² ÷ (n − 1))",
            f"√({' + '.join(f'{si(flow - point.mean)}²' for flow in flows)}) ÷ "
            f"√{len(flows) - 1} = {si(point.deviation)} m³/s",
            units.text(point.deviation, "flow"),
            "JCGM 100:2008, 4.2.2",
        ),
        _between_ports(found, point, low, high, units),
        _uncertainty(
            [float(u[point.lowest]), float(u[point.highest]), common],
            point.expanded_uncertainty,
            found.states_uncertainty,
            units,
        ),
        Working(
            "spread",
            "Spread",
            "100 × (most − least) ÷ mean",
            f"100 × {si(point.difference)} ÷ {si(point.mean)} = {point.spread_percent:.3f} %",
            f"{point.spread_percent:.1f} %",
            "definition; common practice, no source",
        ),
    ]


def of_ratio(found: SideRatio, place: int, units: UnitSystem) -> list[Working]:
    """Exhaust over intake at one lift, from 0."""
    point, brought = found.ratio.points[place], found.alike
    relative = [
        float(u / flow)
        for u, flow in zip(
            brought.standard_uncertainty[:, place], brought.flow[:, place], strict=True
        )
    ]
    squares = " + ".join(f"{si(part)}²" for part in relative)
    cancels = "; the calibration both share cancels and is left out" if brought.shared else ""
    stated = found.states_uncertainty
    return [
        Working(
            "ratio",
            "Exhaust over intake",
            "exhaust flow ÷ intake flow, both at this lift",
            f"{si(point.above)} ÷ {si(point.below)} m³/s = {point.ratio:.5f}",
            f"{point.ratio:.3f}",
            f"definition; {INTERPOLATED}",
        ),
        Working(
            "uncertainty",
            "Expanded uncertainty of the ratio",
            "U = 2 × r × √((u_intake ÷ q_intake)² + (u_exhaust ÷ q_exhaust)²)",
            f"2 × {point.ratio:.5f} × √({squares}) = {si(point.expanded_uncertainty)}{cancels}",
            f"{point.expanded_uncertainty:.3f}" if stated else "not stated",
            "JCGM 100:2008, 5.1.6, 5.2.2 and F.1.2.4",
        ),
    ]


def of_step(before: Reduction, after: Reduction, step: Step, units: UnitSystem) -> list[Working]:
    """What one session was worth over another in a part of the lift."""
    stated = step.expanded_uncertainty > 0.0
    return [
        *_means(before, after, step, units),
        Working(
            "gain",
            "Gain in mean flow",
            "mean after − mean before; in per cent of the mean before",
            f"{si(step.after)} − {si(step.before)} m³/s = {si(step.gain)} m³/s; "
            f"100 × {si(step.gain)} ÷ {si(step.before)} = {step.gain_percent:+.3f} %".replace(
                "-", "−"
            ),
            f"{units.text(step.gain, 'flow')}, {step.gain_percent:+.1f} %".replace("-", "−"),
            "definition",
        ),
        _uncertainty(
            [step.u_before, step.u_after, step.u_common], step.expanded_uncertainty, stated, units
        ),
        _verdict(step.gain, step.expanded_uncertainty, stated),
    ]


def _means(before: Reduction, after: Reduction, step: Step, units: UnitSystem) -> Iterator[Working]:
    part = step.part
    for word, found, mean in (("before", before, step.before), ("after", after, step.after)):
        yield Working(
            word,
            f"Mean flow {word}, {WORDS[part.name]}",
            "area under the curve, straight from point to point ÷ width of the part",
            f"from {si(1e3 * part.low)} to {si(1e3 * part.high)} mm of the curve "
            f"{curve_in_numbers(found.lifts, found.flow)}, m³/s: {si(mean)} m³/s",
            units.text(mean, "flow"),
            "trapezoid rule",
        )


def _between_ports(
    found: Ports, point: SpreadPoint, low: float, high: float, units: UnitSystem
) -> Working:
    least, most = found.members[point.lowest].name, found.members[point.highest].name
    return Working(
        "difference",
        "Most less least",
        "flow of the port that flows most − that of the one that flows least",
        f"{most}, {si(high)} − {least}, {si(low)} m³/s = {si(point.difference)} m³/s",
        units.text(point.difference, "flow"),
        "definition",
    )


def _uncertainty(parts: list[float], expanded: float, stated: bool, units: UnitSystem) -> Working:
    squares = " + ".join(f"{si(abs(part))}²" for part in parts)
    return Working(
        "uncertainty",
        "Expanded uncertainty of the difference",
        "U = 2 × √(u₁² + u₂² + u_c²)",
        f"2 × √({squares}) m³/s = {si(expanded)} m³/s; in order: of the one, of the other, and of "
        "the calibration, which counts on the difference alone where both share one and is in the "
        "two otherwise",
        units.text(expanded, "flow") if stated else "not stated",
        CORRELATED,
    )


def _verdict(gain: float, expanded: float, stated: bool) -> Working:
    if not stated:
        says, value = "a test states no uncertainty, so that nothing can be told", "not known"
    elif abs(gain) > expanded:
        says, value = f"{si(abs(gain))} > {si(expanded)}: the change exceeds it", "shown"
    else:
        says, value = f"{si(abs(gain))} ≤ {si(expanded)}: it may be there or not", "not shown"
    return Working(
        "verdict",
        "Whether it is shown",
        "|difference| > U",
        says,
        value,
        "k = 2 covers about 95 %: JCGM 100:2008, 6.2.2 and 6.3.3",
    )
