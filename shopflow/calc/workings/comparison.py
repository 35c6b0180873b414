"""Workings of a comparison: gains, spreads of ports, and ratios."""

from __future__ import annotations

from collections.abc import Sequence
from math import isinf

from shopflow.calc.area_spread import AreaSpread
from shopflow.calc.ratio import RatioPoint
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.student import factor_95
from shopflow.calc.workings.working import Working, si
from shopflow.calc.worth import FlowGain
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem

WORDS = {
    "whole": lazy("all lifts both tests cover"),
    "low": lazy("low lift"),
    "mid": lazy("mid lift"),
    "high": lazy("high lift"),
}
CURVE = lazy(
    "monotone cubic through no lift and the tested points: Fritsch and Butland, SIAM J. Sci. Stat. "
    "Comput. 5 (1984) 300"
)


def of_gain(gain: FlowGain, units: UnitSystem, finding: str) -> list[Working]:
    """A difference in effective area, and its verdict in words."""
    area = gain.area
    flux = gettext("mass flow ÷ mass flux of an ideal isentropic nozzle")
    if area.high > area.low:
        flux = gettext(
            "mass flow ÷ mass flux of an ideal isentropic nozzle, integral of the curve over the "
            "range ÷ the range"
        )
    percent = f"{gain.gain_percent:+.3f} %".replace("-", "−")
    return [
        Working(
            "area",
            gettext("Effective areas"),
            flux,
            gettext(
                "before {before} m², after {after} m²", before=si(area.before), after=si(area.after)
            ),
            f"{units.text(area.before, 'port area')}, {units.text(area.after, 'port area')}",
            CURVE,
        ),
        Working(
            "flow",
            gettext("The same as flow"),
            gettext("ideal mass flux × area ÷ density"),
            gettext(
                "both at the reference pressure, in air of {standard_density} kg/m³: "
                "{before} and {after} m³/s",
                standard_density=STANDARD_DENSITY,
                before=si(gain.before),
                after=si(gain.after),
            ),
            f"{units.text(gain.before, 'flow')}, {units.text(gain.after, 'flow')}",
            gettext("Heywood, Internal Combustion Engine Fundamentals, appendix C"),
        ),
        Working(
            "percent",
            gettext("Difference in per cent"),
            gettext("100 × (after ÷ before − 1)"),
            f"100 × ({si(area.after)} ÷ {si(area.before)} − 1) = {percent}",
            f"{gain.gain_percent:+.1f} %".replace("-", "−"),
            gettext("definition"),
        ),
        _of_area(gain),
        _chance(gain, finding),
    ]


def _of_area(gain: FlowGain) -> Working:
    """The expanded uncertainty of a gain in effective area."""
    area = gain.area
    freedom = gettext("very many") if isinf(area.freedom) else f"{area.freedom:.0f}"
    factor = factor_95(area.freedom)
    stated = area.expanded_uncertainty
    return Working(
        "uncertainty",
        gettext("Expanded uncertainty of the difference"),
        gettext("U = t × u, for 95 %"),
        gettext(
            "{factor:.4f} × {standard_uncertainty:.4f} %, with {freedom} effective "
            "degrees of freedom (Welch and Satterthwaite); what both tests share, as "
            "calibration, element and gauge, counts by what is left of it in the "
            "difference",
            factor=factor,
            standard_uncertainty=100.0 * area.standard_uncertainty,
            freedom=freedom,
        ),
        gettext("not stated") if stated is None else f"{100.0 * stated:.2f} %",
        gettext("JCGM 100:2008, 5.2 and G.4; JCGM 102:2011"),
    )


def _chance(gain: FlowGain, finding: str) -> Working:
    """The verdict on a gain in effective area."""
    return Working(
        "verdict",
        gettext("Whether it is shown"),
        gettext(
            "the chance of as large a difference of nothing at all, against 5 % for all lifts "
            "together"
        ),
        gettext(
            "chance {chance:.4f}; never called within one division of the scale",
            chance=gain.area.chance,
        ),
        finding,
        gettext("Student's t; Holm, Scand. J. Statist. 6 (1979) 65"),
    )


def of_ports(point: AreaSpread, names: Sequence[str], units: UnitSystem) -> list[Working]:
    """The spread of ports side by side, under their names."""
    listed = "; ".join(f"{name} {si(area)}" for name, area in zip(names, point.areas, strict=True))
    squares = " + ".join(f"{si(area - point.mean)}²" for area in point.areas)
    least, most = (names[at] for at in (point.lowest, point.highest))
    low, high = point.areas[point.lowest], point.areas[point.highest]
    stated = point.expanded_uncertainty
    return [
        Working(
            "mean",
            gettext("Mean of the ports"),
            gettext("sum of the effective areas ÷ number of ports"),
            gettext("m²: {listed}; mean {mean}", listed=listed, mean=si(point.mean)),
            units.text(point.mean, "port area"),
            CURVE,
        ),
        Working(
            "deviation",
            gettext("Standard deviation of the ports"),
            gettext("s = √(Σ (A − mean)² ÷ (n − 1))"),
            f"√({squares}) ÷ √{len(point.areas) - 1} = {si(point.deviation)} m²",
            units.text(point.deviation, "port area"),
            "JCGM 100:2008, 4.2.2",
        ),
        Working(
            "spread",
            gettext("Spread"),
            gettext("100 × (most − least) ÷ mean"),
            f"100 × ({most}, {si(high)} − {least}, {si(low)}) ÷ {si(point.mean)} = "
            f"{100.0 * point.spread:.3f} %",
            f"{100.0 * point.spread:.1f} %",
            gettext("definition; common practice, no source"),
        ),
        Working(
            "uncertainty",
            gettext("Expanded uncertainty of the spread"),
            gettext("U = q ÷ √2 × u of a difference of two ports, for 95 %"),
            gettext(
                "q is that of the studentized range of {areas} ports: the more there "
                "are, the farther two of them lie apart by chance; what all share cancels",
                areas=len(point.areas),
            ),
            gettext("not stated") if stated is None else f"{100.0 * stated:.2f} %",
            gettext("Tukey (1953); Kramer, Biometrics 12 (1956) 307"),
        ),
        Working(
            "verdict",
            gettext("Whether the ports differ"),
            gettext(
                "the chance of as large a spread of ports that are alike, against 5 % for all lifts"
            ),
            gettext("by the studentized range"),
            translated(point.verdict),
            gettext("Holm, Scand. J. Statist. 6 (1979) 65"),
        ),
    ]


def of_ratio(point: RatioPoint) -> list[Working]:
    """Exhaust over intake at one lift."""
    stated = point.expanded_uncertainty
    return [
        Working(
            "ratio",
            gettext("Exhaust over intake"),
            gettext("exhaust ÷ intake, the effective areas of both at this lift"),
            f"{si(point.above)} ÷ {si(point.below)} m² = {point.ratio:.5f}",
            f"{point.ratio:.3f}",
            CURVE,
        ),
        Working(
            "uncertainty",
            gettext("Expanded uncertainty of the ratio"),
            gettext("U = t × u, for 95 %"),
            gettext(
                "{freedom:.4f} × {standard_uncertainty}; what both tests share, as one "
                "calibration, cancels",
                freedom=factor_95(point.freedom),
                standard_uncertainty=si(point.standard_uncertainty),
            ),
            gettext("not stated") if stated is None else f"{stated:.3f}",
            gettext("JCGM 100:2008, 5.2, F.1.2.4 and G.4"),
        ),
    ]
