"""Notes on method: every result in plain words, for the page and the certificate."""

from __future__ import annotations

from dataclasses import fields

from shopflow.calc import results
from shopflow.documents.certificate import Explained
from shopflow.documents.certificate_text import UNCERTAINTY
from shopflow.texts import lazy

OF_RESULTS = (
    Explained(
        lazy("Flow"),
        lazy(
            "As tested: what the bench showed, less what leaks with the valve shut, times the "
            "calibration factor, at the test pressure. Restated to another pressure in two ways: "
            "isentropic, through the same effective area; and by the root of the pressures. "
            "Charts and gains show the flow that the effective area passes at the reference "
            "pressure in air of 1.204 kg/m³, so that days of other weather compare."
        ),
        lazy(
            "Q = factor × (mean of the runs − leakage);  by the root: × √(reference pressure ÷ "
            "test pressure)"
        ),
        lazy(
            "The square root is a convention, exact only while air does not compress: "
            "bringing 10 inches to 28 says 1.673, and an ideal nozzle would say 1.632. Flow "
            "at one pressure is not a promise of flow at another."
        ),
        lazy("Bernoulli; isentropic flow after Heywood (1988), appendix C"),
    ),
    Explained(
        lazy("Flow from a metering element"),
        lazy(
            "On a bench that reads a pressure difference: the mass that passes a plate or nozzle "
            "in a pipe, over the density of the room's air."
        ),
        "m = C ÷ √(1 − β⁴) × ε × π/4 d² × √(2 Δp ρ)",
        lazy(
            "The coefficient of the standard holds for a sharp, clean element in a long straight "
            "pipe within the standard's limits; the test says if it is outside them. An element "
            "with its own coefficient is as good as its calibration."
        ),
        lazy("ISO 5167-1, -2 and -3"),
    ),
    Explained(
        lazy("Pressure, leakage and meter air"),
        lazy(
            "A run at a pressure of its own, and a leakage at its own, are brought to the test "
            "pressure by the root of the pressures. Where the meter's air is not the room's, a "
            "volume meter's flow varies with the ratio of the densities, a restriction's with its "
            "square root."
        ),
        lazy("q = q_run × √(Δp ÷ Δp_run);  factor ρ_m/ρ, or √(ρ_m/ρ)"),
        lazy(
            "Leaks through narrow gaps grow faster than the root of the pressure: a leakage "
            "measured far from the test pressure is a guess."
        ),
        lazy("Bernoulli; ideal gas"),
    ),
    Explained(
        lazy("Air density"),
        lazy("Weight of the room's air, from barometer, temperature and humidity."),
        lazy("CIPM-2007, with 400 µmol/mol of carbon dioxide"),
        lazy(
            "The formula is meant for 600 to 1100 hPa and 15 to 27 °C. Outside them it is "
            "extrapolated, and the test says so."
        ),
        lazy("Picard et al., Metrologia 45 (2008) 149"),
    ),
    Explained(
        lazy("Effective area"),
        lazy(
            "The opening of an ideal nozzle that would pass the same air across the same pressures."
        ),
        lazy("A = ρ·q ÷ ideal mass flux, choked where the pressure ratio is below 0.528"),
        lazy("It is not an opening one could measure with a caliper."),
        lazy("Heywood (1988), appendix C"),
    ),
    Explained(
        lazy("Discharge coefficients"),
        lazy(
            "Effective area over an area of the head: the curtain π·D·L, the valve head "
            "π·D²/4, or the least area between valve and seat. A coefficient that falls at "
            "low lift speaks of seat and bowl; one that falls past L/D 0.25 speaks of the "
            "port (common practice, no source: a hint, never a verdict)."
        ),
        lazy("Cd = effective area ÷ reference area, over all valves open"),
        lazy(
            "Two coefficients compare only on the same reference area. One above 1 on the "
            "least valve area means that something is wrong: zero of the lift, leakage, or the "
            "sizes of the seat."
        ),
        lazy("Heywood (1988), section 6.3"),
    ),
    Explained(
        lazy("Velocity and kinetic energy"),
        lazy(
            "Mean speed of the air where the port's area was given, and the energy it carries"
            " each second."
        ),
        lazy("v = Q ÷ port area;  E = ½·ρ·Q·v²"),
        lazy(
            "It is a mean over the section: the air along one wall may go twice as fast. "
            "Without a port area there is none."
        ),
        "",
    ),
)
"""Notes that lead to the results of a lift, and those explained together."""

OTHERS = (
    Explained(
        lazy("Along the port"),
        lazy(
            "How fast a flow is at each section that was measured, how near to choking, and what "
            "the sections enclose. Where the flow is more than a section can pass without losses "
            "it is called choked."
        ),
        "v = Q ÷ A;  ρ·Q ÷ A = p₀·√(γ÷R·T₀)·M ÷ (1 + 0.2·M²)³;  V = Σ h÷3·(A₁ + A₂ + √(A₁·A₂))",
        lazy(
            "Means over each section, of dry air without losses, from the room's pressure (blown "
            "out, that and the pressure flows are stated at). A port that bulges between two "
            "sections has more volume than shown. Whether port or valve is the tighter is "
            "geometry, not a verdict."
        ),
        lazy("NASA Glenn Research Center, Mass flow choking; Heywood (1988), appendix C"),
    ),
    Explained(
        lazy("Calibration by points"),
        lazy(
            "A bench set against known flows over its range: a straight line or a curve through "
            "the points turns each reading into a true flow. Each point counts by its own "
            "uncertainty, and the fit has one at every flow. Two tests under one calibration "
            "share the fit's errors, so that only what they differ by between the two flows is "
            "left in a gain."
        ),
        lazy(
            "min Σ((true − f(reading)) ÷ u)²;  U = 2·√(g·V·g), g the derivatives of f by its "
            "coefficients and V the covariance of these"
        ),
        lazy(
            "Beyond the last point on either side that point's factor is taken, which nothing has "
            "checked: the test says so. Where the points lie farther from the fit than their "
            "uncertainties allow (chi-squared at 95 %), the page says so and the fit's "
            "uncertainty is enlarged by √(χ² ÷ degrees of freedom)."
        ),
        lazy("ISO/TS 28037:2010; ISO/TS 28038:2018; Birge, Phys. Rev. 40 (1932) 207"),
    ),
    Explained(
        lazy("Uncertainty"),
        lazy("{stated} {judged}", stated=UNCERTAINTY[0], judged=UNCERTAINTY[1]),
        lazy(
            "u² = runs² + (division ÷ √12)² + (calibration ÷ 2)² + (½ pressure)² + (slope × lift ÷ "
            "A)² + leakage² + (½ density)² + element²;  U = k·u"
        ),
        lazy(
            "It covers what is recorded with the test, and nothing else. Another bench, entry "
            "radius or bore adapter can differ by more."
        ),
        "JCGM 100:2008",
    ),
    Explained(
        lazy("Gain"),
        lazy(
            "The later test's effective area over the earlier one's, at the later one's lifts and "
            "in the mean over the lifts both cover. What both tests share, such as a calibration "
            "or a pressure gauge, is in both and cancels. Flow stands beside it, both sides at "
            "one pressure and in one air."
        ),
        lazy("gain = area after ÷ area before − 1;  mean = ∫ A dL ÷ (last − first lift)"),
        lazy(
            "A gain that is not called may be there all the same, and these tests cannot tell. "
            "Verdicts lift by lift hold for all lifts together, so that a gain may exceed its own "
            "U and not be called."
        ),
        lazy(
            "JCGM 100:2008, 5.2 and F.1.2; Holm, Scand. J. Statist. 6 (1979) 65; curve: Fritsch "
            "and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300"
        ),
    ),
    Explained(
        lazy("Low, mid and high lift"),
        lazy(
            "The mean of a curve over a part of the lift: up to L/D 0.15, from there to 0.25, and "
            "beyond (common practice, no source)."
        ),
        lazy("mean = area under the curve ÷ width, straight from point to point"),
        lazy("Where one part ends and the next begins is a habit of the trade, not of the air."),
    ),
    Explained(
        lazy("Through the cam"),
        lazy(
            "The effective area over the time that a cam holds the valve open, as a mean and "
            "against crank angle; both ports in series while both are open; and how near the "
            "engine's speed brings the intake to choking. Two tests are compared over what both "
            "cover, all cams of a table together."
        ),
        lazy(
            "lift = ratio × lobe lift − lash;  mean = ∫ A dθ ÷ open period;  in series 1 ÷ "
            "√(1/Ai² + 1/Ae²);  Z = S·π/4 b² ÷ (a × mean)"
        ),
        lazy(
            "Above the last lift tested the area there is used, and the share of the open period "
            "so spent is shown: it is in no ±. The cam is taken as entered; a lobe between "
            "measured points is a monotone cubic, one known by duration and lift alone a stand-in "
            "by sin². Areas come from steady flow at one pressure."
        ),
        lazy("JSME dictionary of mechanical engineering, entry 11:1002813; JCGM 102:2011"),
    ),
    Explained(
        lazy("Spread of ports"),
        lazy(
            "The port that flows most less the one that flows least, over the mean of all; and the "
            "standard deviation of their flows."
        ),
        lazy("spread = (highest − lowest) ÷ mean"),
        lazy(
            "Of many ports two lie far apart by chance more often than of two. Within its "
            "uncertainty a difference is not shown."
        ),
        lazy("JCGM 100:2008, 4.2 and 5.2"),
    ),
    Explained(
        lazy("Exhaust over intake"),
        lazy(
            "Exhaust flow over intake flow, at like lift or at like lift over valve diameter. A "
            "calibration that both were made under is in both and cancels."
        ),
        lazy(
            "r = exhaust ÷ intake;  (U of r ÷ r)² = (U of exhaust ÷ exhaust)² + (U of intake ÷ "
            "intake)²"
        ),
        lazy(
            "One engine measured did best near 1.0 with exhaust pressure equal to inlet pressure, "
            "within its range of speeds. Of other pressures, as under boost, it says nothing."
        ),
        lazy("JCGM 100:2008, 5.1.6 and 5.2; NACA TN 1365 (1947), its summary"),
    ),
    Explained(
        lazy("Band of past results"),
        lazy(
            "The effective area of the shop's own past heads of an engine type and its "
            "relatives, side by side: at each lift their median, the middle half, the least and "
            "the most. Each head counts once, with its latest test; between its lifts a test is "
            "a monotone cubic, and it counts nowhere beyond them. The next head falls within the "
            "interval named so in about half of cases."
        ),
        lazy(
            "quartile p of n values in order: place 1 + (n − 1)·p, linearly between neighbors;  "
            "next head: mean ± t s √(1 + 1/n), t for 50 % and n − 1 degrees of freedom"
        ),
        lazy(
            "It is what this shop's benches read on the heads that happened to come in, not "
            "what an engine can do. Fewer than three heads make no band."
        ),
        lazy(
            "Hyndman and Fan, The American Statistician 50 (1996) 361, type 7; NIST/SEMATECH "
            "e-Handbook, 7.1.6; Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300"
        ),
    ),
    Explained(
        lazy("Reading the curve"),
        lazy(
            "Hints with their numbers: the curtain coefficient up to L/D 0.15, how flow and "
            "curtain grow past L/D 0.25, the velocity through the port section, exhaust flow "
            "over intake flow."
        ),
        "",
        lazy(
            "A hint is no verdict: it says where one might look first. Most of them are "
            "common practice without a source, and each says so."
        ),
        lazy(
            "Heywood (1988), section 6.3, values from memory, for intakes at low lift; else "
            "common practice, no source"
        ),
    ),
    Explained(
        lazy("Seat load"),
        lazy(
            "The base load, what boost or back pressure does on the whole face of the valve "
            "head, and what the porter adds for a shallower seat."
        ),
        lazy("F = base + p·π·D²/4 + allowance"),
        lazy(
            "The allowance for a shallow seat is common practice without a source. The engine"
            " builder has the last word."
        ),
        "",
    ),
)
"""Notes on what several results give together."""

SHOP_ONLY = (
    lazy("Through the cam"),
    lazy("Spread of ports"),
    lazy("Exhaust over intake"),
    lazy("Band of past results"),
    lazy("Reading the curve"),
    lazy("Seat load"),
)
"""Notes that no certificate needs."""


def every() -> tuple[Explained, ...]:
    """Every note, in the order of a test's tables; a result without a group has one of its own."""
    named = {item.name for item in OF_RESULTS}
    alone = [row for row in results.RESULTS if row.means and row.note not in named]
    own = (Explained(row.name, row.means, row.formula, row.limits, row.source) for row in alone)
    return (*OF_RESULTS, *own, *OTHERS)


def on_certificates() -> tuple[Explained, ...]:
    """Those that a certificate states, in the language spoken now."""
    return tuple(
        Explained(*(str(getattr(item, field.name)) for field in fields(item)))
        for item in every()
        if item.name not in SHOP_ONLY
    )
