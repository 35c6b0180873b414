"""How the figures of a comparison came about: gains, spreads, ratios, and means over a part."""

from __future__ import annotations

from math import isinf

from shopflow.calc.spread import SpreadPoint
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.student import factor_95
from shopflow.calc.worth import FlowGain, Step
from shopflow.services.comparisons import Difference, Ports, SideRatio
from shopflow.services.workings.working import Working, si
from shopflow.units import UnitSystem

CORRELATED = "JCGM 100:2008, 5.2 and F.1.2: what both have in common acts on the difference alone"
WORDS = {"whole": "all lifts in common", "low": "low lift", "mid": "mid lift", "high": "high lift"}
CURVE = (
    "monotone cubic through no lift and the tested points: Fritsch and Butland, SIAM J. Sci. Stat. "
    "Comput. 5 (1984) 300"
)
INTERPOLATED = "between two lifts a curve is taken as straight"


def of_difference(found: Difference, place: int, units: UnitSystem) -> list[Working]:
    """The difference at one of a comparison's lifts, from 0."""
    return of_gain(found.points[place], units)


def of_step(step: Step, units: UnitSystem) -> list[Working]:
    """What one session was worth over another in a part of the lift."""
    return of_gain(step.flow, units)


def of_gain(found: FlowGain, units: UnitSystem) -> list[Working]:
    """A gain in effective area: the areas, the flow they pass, the gain, its uncertainty."""
    area = found.area
    mean = ", integral of the curve over the range ÷ the range" if area.high > area.low else ""
    percent = f"{found.gain_percent:+.3f} %".replace("-", "−")
    return [
        Working(
            "area",
            "Effective areas",
            f"mass flow ÷ mass flux of an ideal isentropic nozzle{mean}",
            f"before {si(area.before)} m², after {si(area.after)} m²",
            f"{units.text(area.before, 'port area')}, {units.text(area.after, 'port area')}",
            CURVE,
        ),
        Working(
            "flow",
            "The same as flow",
            "ideal mass flux × area ÷ density",
            f"both at the reference pressure, in air of {STANDARD_DENSITY} kg/m³: "
            f"{si(found.before)} and {si(found.after)} m³/s",
            f"{units.text(found.before, 'flow')}, {units.text(found.after, 'flow')}",
            "Heywood, Internal Combustion Engine Fundamentals, appendix C",
        ),
        Working(
            "percent",
            "Difference in per cent",
            "100 × (after ÷ before − 1)",
            f"100 × ({si(area.after)} ÷ {si(area.before)} − 1) = {percent}",
            f"{found.gain_percent:+.1f} %".replace("-", "−"),
            "definition",
        ),
        _of_area(found),
        _chance(found),
    ]


def _of_area(found: FlowGain) -> Working:
    """The expanded uncertainty of a gain in effective area."""
    area = found.area
    freedom = "very many" if isinf(area.freedom) else f"{area.freedom:.0f}"
    factor = factor_95(area.freedom)
    stated = area.expanded_uncertainty
    return Working(
        "uncertainty",
        "Expanded uncertainty of the difference",
        "U = t × u, for 95 %",
        f"{factor:.4f} × {100.0 * area.standard_uncertainty:.4f} %, with {freedom} effective "
        "degrees of freedom (Welch and Satterthwaite); what both tests share, as calibration, "
        "element and gauge, counts by what is left of it in the difference",
        "not stated" if stated is None else f"{100.0 * stated:.2f} %",
        "JCGM 100:2008, 5.2 and G.4; JCGM 102:2011",
    )


def _chance(found: FlowGain) -> Working:
    """The verdict on a gain in effective area."""
    return Working(
        "verdict",
        "Whether it is shown",
        "the chance of as large a difference of nothing at all, against 5 % for all lifts together",
        f"chance {found.area.chance:.4f}; never called within one division of the scale",
        str(found.verdict),
        "Student's t; Holm, Scand. J. Statist. 6 (1979) 65",
    )


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
