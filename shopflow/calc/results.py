"""The results of a flow test, a row each: symbol, formula, source, uncertainty and working.

JSON, tables, charts, workings, certificates, their recomputation and the programming interface all
read these rows: a new result is a row here, and its check. How they hang together is told in prose
by `documents.method_notes` and `documents.certificate_text`, which follow by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopflow.calc import margins
from shopflow.calc.reduction import Reduction
from shopflow.calc.result import Result, Table
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.workings import in_numbers
from shopflow.texts import lazy

HEYWOOD = lazy("Heywood, Internal Combustion Engine Fundamentals (1988)")


LIFT = Result(
    key="lift",
    symbol="L",
    name=lazy("Lift"),
    formula=lazy("as set"),
    source=lazy("the test"),
    kind="lift",
    values=lambda row: row.lifts,
)
DEPTH = Result(
    key="lift_over_diameter",
    symbol="L/D",
    name=lazy("Lift over valve head diameter"),
    formula="L ÷ D",
    source=lazy("definition"),
)
RUNS = Result(
    key="runs",
    symbol="n",
    name=lazy("Runs"),
    formula=lazy("number of readings at this lift"),
    source=lazy("the test"),
    values=lambda row: row.run_counts,
    type=int,
)
CHOKED = Result(
    key="choked",
    symbol="",
    name=lazy("Choked"),
    formula="p₁ ÷ p₀ ≤ (2 ÷ (γ + 1))^(γ ÷ (γ − 1)), γ 1.4",
    source=lazy("{heywood}, appendix C", heywood=HEYWOOD),
    type=bool,
)
FLOW_AS_TESTED = Result(
    key="flow_as_tested",
    symbol="q",
    name=lazy("Flow as tested"),
    formula=lazy("q = factor × (mean of the runs − leakage), at the test pressure"),
    source=lazy("definition"),
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow_as_tested,
    table=Table.FLOWS,
    column=lazy("Flow as tested at {tested}"),
    short=(lazy("As tested"), ""),
    plot="tested",
    label=lazy("Flow as tested"),
    note=lazy("Flow"),
)
FLOW_ISENTROPIC = Result(
    key="flow_isentropic",
    symbol="Q_s",
    name=lazy("Flow at the reference pressure, isentropic"),
    formula=lazy("Q = A × ideal mass flux at Δp_ref ÷ ρ"),
    source=lazy("{heywood}, appendix C", heywood=HEYWOOD),
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow_isentropic,
    table=Table.FLOWS,
    column=lazy("At {reference}, isentropic"),
    has_margin_column=False,
    short=(lazy("Isentropic"), ""),
    note=lazy("Flow"),
)
FLOW = Result(
    key="flow",
    symbol="Q",
    name=lazy("Flow at the reference pressure, by the root"),
    formula=lazy("Q = q × √(Δp_ref ÷ Δp)"),
    source=lazy("the square root is a convention, exact for incompressible flow (Bernoulli)"),
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow,
    table=Table.FLOWS,
    column=lazy("At {reference}, root"),
    has_margin_column=False,
    short=(lazy("Root"), ""),
    plot="root",
    label=lazy("Flow by the root"),
    note=lazy("Flow"),
)
FLOW_STANDARD = Result(
    key="flow_standard",
    symbol="Q₀",
    name=lazy("Flow through the effective area, in standard air"),
    formula=lazy(
        "Q = A × ideal mass flux at Δp_ref ÷ ρ, in air of {standard_density} kg/m³",
        standard_density=STANDARD_DENSITY,
    ),
    source=lazy("{heywood}, appendix C", heywood=HEYWOOD),
    kind="flow",
    is_in_json=False,
    errors=margins.area_errors,
    numbers=in_numbers.flow_standard,
    column=lazy("At {reference}, standard air"),
    plot="flow",
    label=lazy("Flow in standard air"),
    note=lazy("Flow"),
)
MASS_FLOW = Result(
    key="mass_flow",
    symbol="m",
    name=lazy("Mass flow"),
    formula="m = ρ × q",
    source=lazy("definition"),
    kind="mass flow",
    numbers=in_numbers.mass_flow,
    note=lazy("Flow"),
)
EFFECTIVE_AREA = Result(
    key="effective_area",
    symbol="A",
    name=lazy("Effective area"),
    formula="A = ρ × q ÷ √(2γ/(γ−1) p₀ ρ₀ (r^(2/γ) − r^((γ+1)/γ))), r = p₁/p₀, γ 1.4",
    source=lazy("{heywood}, appendix C", heywood=HEYWOOD),
    kind="port area",
    errors=margins.area_errors,
    numbers=in_numbers.effective_area,
    table=Table.FLOWS,
    column=lazy("Effective area"),
    short=(lazy("Eff. area"), ""),
    plot="area",
    label=lazy("Effective area"),
    note=lazy("Effective area"),
)
CD_CURTAIN = Result(
    key="cd_curtain",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the curtain area"),
    formula=lazy("A ÷ (π D L × number of valves)"),
    source=lazy("{heywood}, section 6.3", heywood=HEYWOOD),
    errors=margins.curtain_errors,
    numbers=in_numbers.cd_curtain,
    table=Table.COEFFICIENTS,
    column=lazy("Cd curtain"),
    short=(lazy("Cd"), "curtain"),
    plot="curtain",
    label=lazy("Cd, curtain"),
    note=lazy("Discharge coefficients"),
)
CD_HEAD = Result(
    key="cd_head",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the valve head area"),
    formula=lazy("A ÷ (π D² ÷ 4 × number of valves)"),
    source=lazy("{heywood}, section 6.3", heywood=HEYWOOD),
    errors=margins.head_errors,
    numbers=in_numbers.cd_head,
    table=Table.COEFFICIENTS,
    column=lazy("Cd head"),
    short=(lazy("Cd"), "head"),
    plot="head",
    label=lazy("Cd, head"),
    note=lazy("Discharge coefficients"),
)
CD_LEAST_AREA = Result(
    key="cd_least_area",
    symbol=lazy("Cd"),
    name=lazy("Coefficient on the least valve area"),
    formula=lazy("A ÷ (least area of valve and seat × number of valves)"),
    source=lazy("{heywood}, section 6.3: three stages of valve opening", heywood=HEYWOOD),
    needs=lazy("seat sizes"),
    errors=margins.least_errors,
    numbers=in_numbers.cd_least_area,
    table=Table.COEFFICIENTS,
    column=lazy("Cd least valve area"),
    short=(lazy("Cd"), "least"),
    plot="least",
    label=lazy("Cd, least valve area"),
    note=lazy("Discharge coefficients"),
)
VELOCITY = Result(
    key="velocity",
    symbol="v",
    name=lazy("Velocity in the port"),
    formula=lazy("v = Q ÷ port area"),
    source=lazy("definition; room-air density, incompressible"),
    kind="velocity",
    needs=lazy("port area"),
    errors=margins.velocity_errors,
    numbers=in_numbers.velocity,
    table=Table.COEFFICIENTS,
    column=lazy("Velocity"),
    short=(lazy("Velocity"), ""),
    plot="velocity",
    label=lazy("Velocity"),
    note=lazy("Velocity and kinetic energy"),
)
KINETIC_ENERGY_FLUX = Result(
    key="kinetic_energy_flux",
    symbol="E",
    name=lazy("Kinetic energy flux"),
    formula="E = ½ ρ Q v²",
    source=lazy("definition"),
    kind="power",
    needs=lazy("port area"),
    errors=margins.energy_errors,
    numbers=in_numbers.kinetic_energy_flux,
    table=Table.COEFFICIENTS,
    column=lazy("Kinetic energy flux"),
    short=(lazy("Energy"), ""),
    plot="energy",
    label=lazy("Kinetic energy"),
    note=lazy("Velocity and kinetic energy"),
)
FLOW_EXPANDED = Result(
    key="flow_expanded_uncertainty",
    symbol="U(Q)",
    name=lazy("Expanded uncertainty of the flow by the root, k = 2"),
    formula=lazy("U = 2 × √(sum of the squares of the components)"),
    source=lazy("JCGM 100:2008, 5.1.2 and 6.2.1"),
    kind="flow",
)
AREA_EXPANDED = Result(
    key="effective_area_expanded_uncertainty",
    symbol="U(A)",
    name=lazy("Expanded uncertainty of the effective area, 95 %"),
    formula=lazy("U = k × √(sum of the squares of the components), k for 95 %"),
    source=lazy("JCGM 100:2008, 5.1.2 and G.4.1"),
    kind="port area",
    needs=lazy("repeats, or the scale's division"),
)

RESULTS: tuple[Result, ...] = (
    LIFT,
    DEPTH,
    RUNS,
    FLOW_AS_TESTED,
    FLOW_ISENTROPIC,
    FLOW,
    FLOW_STANDARD,
    MASS_FLOW,
    EFFECTIVE_AREA,
    CD_CURTAIN,
    CD_HEAD,
    CD_LEAST_AREA,
    VELOCITY,
    KINETIC_ENERGY_FLUX,
    FLOW_EXPANDED,
    AREA_EXPANDED,
    CHOKED,
)
"""Every result, in the order of tables and workings."""

IN_JSON = (
    "lift",
    "lift_over_diameter",
    "runs",
    "flow",
    "flow_expanded_uncertainty",
    "mass_flow",
    "effective_area",
    "cd_curtain",
    "cd_head",
    "cd_least_area",
    "velocity",
    "kinetic_energy_flux",
    "effective_area_expanded_uncertainty",
    "flow_as_tested",
    "flow_isentropic",
    "choked",
)
"""The keys that JSON begins with, in an order that never changes; later results follow them."""

SI_UNITS = {
    "lift": "m",
    "flow": "m3/s",
    "mass flow": "kg/s",
    "port area": "m2",
    "velocity": "m/s",
    "power": "W",
}
"""Unit of each kind of result in JSON."""


def of_table(table: Table) -> list[Result]:
    """The results with a column in a table, in order."""
    return [row for row in RESULTS if row.table == table]


def plotted() -> dict[str, Result]:
    """The results that can be drawn, by the words addresses have for them."""
    order = sorted((row for row in RESULTS if row.plot), key=lambda row: row.plot != "flow")
    return {row.plot: row for row in order}


def stated() -> list[Result]:
    """The results that a document states of each lift: those with a column or a chart."""
    return [row for row in RESULTS if row.table or row.plot]


def in_json() -> list[Result]:
    """The results that JSON holds, in its order."""
    fixed = {key: index for index, key in enumerate(IN_JSON)}
    rows = [row for row in RESULTS if row.is_in_json]
    return sorted(rows, key=lambda row: fixed.get(row.key, len(fixed)))


def by_lift(reduction: Reduction) -> list[dict[str, float | int | bool | None]]:
    """A test's results lift by lift, by their keys in the order of JSON."""
    columns = {row.key: row.of(reduction) for row in in_json()}
    nothing = [None] * len(reduction.lifts)
    lists = [nothing if column is None else column.tolist() for column in columns.values()]
    return [dict(zip(columns, values, strict=True)) for values in zip(*lists, strict=True)]


def with_working() -> Iterator[tuple[Result, Callable[[Reduction, int], str]]]:
    """The results that have a working, each with what makes it."""
    for row in RESULTS:
        if row.numbers is not None:
            yield row, row.numbers
