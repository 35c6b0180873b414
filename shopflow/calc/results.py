"""The results of a flow test, a row each: symbol, formula, source, uncertainty and working.

JSON, tables, charts, workings, method notes, certificates, their recomputation and the programming
interface all read these rows: a new result is a row here, and its check.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopflow.calc import margins
from shopflow.calc.reduction import Reduction
from shopflow.calc.result import Result, Table
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.workings import in_numbers

HEYWOOD = "Heywood, Internal Combustion Engine Fundamentals (1988)"


LIFT = Result(
    key="lift",
    symbol="L",
    name="Lift",
    formula="as set",
    source="the test",
    kind="lift",
    values=lambda found: found.lifts,
)
DEPTH = Result(
    key="lift_over_diameter",
    symbol="L/D",
    name="Lift over valve head diameter",
    formula="L ÷ D",
    source="definition",
)
RUNS = Result(
    key="runs",
    symbol="n",
    name="Runs",
    formula="number of readings at this lift",
    source="the test",
    values=lambda found: found.run_counts,
    type=int,
)
CHOKED = Result(
    key="choked",
    symbol="",
    name="Choked",
    formula="p₁ ÷ p₀ ≤ (2 ÷ (γ + 1))^(γ ÷ (γ − 1)), γ 1.4",
    source=f"{HEYWOOD}, appendix C",
    type=bool,
)
FLOW_AS_TESTED = Result(
    key="flow_as_tested",
    symbol="q",
    name="Flow as tested",
    formula="q = factor × (mean of the runs − leakage), at the test pressure",
    source="definition",
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow_as_tested,
    table=Table.FLOWS,
    column="Flow as tested at {tested}",
    short=("As tested", ""),
    plot="tested",
    label="Flow as tested",
    note="Flow",
)
FLOW_ISENTROPIC = Result(
    key="flow_isentropic",
    symbol="Q_s",
    name="Flow at the reference pressure, isentropic",
    formula="Q = A × ideal mass flux at Δp_ref ÷ ρ",
    source=f"{HEYWOOD}, appendix C",
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow_isentropic,
    table=Table.FLOWS,
    column="At {reference}, isentropic",
    has_margin_column=False,
    short=("Isentropic", ""),
    note="Flow",
)
FLOW = Result(
    key="flow",
    symbol="Q",
    name="Flow at the reference pressure, by the root",
    formula="Q = q × √(Δp_ref ÷ Δp)",
    source="the square root is a convention, exact for incompressible flow (Bernoulli)",
    kind="flow",
    errors=margins.flow_errors,
    numbers=in_numbers.flow,
    table=Table.FLOWS,
    column="At {reference}, root",
    has_margin_column=False,
    short=("Root", ""),
    plot="root",
    label="Flow by the root",
    note="Flow",
)
FLOW_STANDARD = Result(
    key="flow_standard",
    symbol="Q₀",
    name="Flow through the effective area, in standard air",
    formula=f"Q = A × ideal mass flux at Δp_ref ÷ ρ, in air of {STANDARD_DENSITY} kg/m³",
    source=f"{HEYWOOD}, appendix C",
    kind="flow",
    is_in_json=False,
    errors=margins.area_errors,
    numbers=in_numbers.flow_standard,
    plot="flow",
    label="Flow in standard air",
    note="Flow",
)
MASS_FLOW = Result(
    key="mass_flow",
    symbol="m",
    name="Mass flow",
    formula="m = ρ × q",
    source="definition",
    kind="mass flow",
    numbers=in_numbers.mass_flow,
    note="Flow",
)
EFFECTIVE_AREA = Result(
    key="effective_area",
    symbol="A",
    name="Effective area",
    formula="A = ρ × q ÷ √(2γ/(γ−1) p₀ ρ₀ (r^(2/γ) − r^((γ+1)/γ))), r = p₁/p₀, γ 1.4",
    source=f"{HEYWOOD}, appendix C",
    kind="port area",
    errors=margins.area_errors,
    numbers=in_numbers.effective_area,
    table=Table.FLOWS,
    column="Effective area",
    short=("Eff. area", ""),
    plot="area",
    label="Effective area",
    note="Effective area",
)
CD_CURTAIN = Result(
    key="cd_curtain",
    symbol="Cd",
    name="Coefficient on the curtain area",
    formula="A ÷ (π D L × number of valves)",
    source=f"{HEYWOOD}, section 6.3",
    errors=margins.curtain_errors,
    numbers=in_numbers.cd_curtain,
    table=Table.COEFFICIENTS,
    column="Cd curtain",
    short=("Cd", "curtain"),
    plot="curtain",
    label="Cd, curtain",
    note="Discharge coefficients",
)
CD_HEAD = Result(
    key="cd_head",
    symbol="Cd",
    name="Coefficient on the valve head area",
    formula="A ÷ (π D² ÷ 4 × number of valves)",
    source=f"{HEYWOOD}, section 6.3",
    errors=margins.head_errors,
    numbers=in_numbers.cd_head,
    table=Table.COEFFICIENTS,
    column="Cd head",
    short=("Cd", "head"),
    plot="head",
    label="Cd, head",
    note="Discharge coefficients",
)
CD_LEAST_AREA = Result(
    key="cd_least_area",
    symbol="Cd",
    name="Coefficient on the least area",
    formula="A ÷ (least area of valve and seat × number of valves)",
    source=f"{HEYWOOD}, section 6.3: three stages of valve opening",
    needs="seat sizes",
    errors=margins.least_errors,
    numbers=in_numbers.cd_least_area,
    table=Table.COEFFICIENTS,
    column="Cd least area",
    short=("Cd", "least"),
    plot="least",
    label="Cd, least area",
    note="Discharge coefficients",
)
VELOCITY = Result(
    key="velocity",
    symbol="v",
    name="Velocity in the port",
    formula="v = Q ÷ port area",
    source="definition; room-air density, incompressible",
    kind="velocity",
    needs="port area",
    errors=margins.velocity_errors,
    numbers=in_numbers.velocity,
    table=Table.COEFFICIENTS,
    column="Velocity",
    short=("Velocity", ""),
    plot="velocity",
    label="Velocity",
    note="Velocity and kinetic energy",
)
KINETIC_ENERGY_FLUX = Result(
    key="kinetic_energy_flux",
    symbol="E",
    name="Kinetic energy flux",
    formula="E = ½ ρ Q v²",
    source="definition",
    kind="power",
    needs="port area",
    errors=margins.energy_errors,
    numbers=in_numbers.kinetic_energy_flux,
    table=Table.COEFFICIENTS,
    column="Kinetic energy flux",
    short=("Energy", ""),
    plot="energy",
    label="Kinetic energy",
    note="Velocity and kinetic energy",
)
FLOW_EXPANDED = Result(
    key="flow_expanded_uncertainty",
    symbol="U(Q)",
    name="Expanded uncertainty of the flow by the root, k = 2",
    formula="U = 2 × √(sum of the squares of the components)",
    source="JCGM 100:2008, 5.1.2 and 6.2.1",
    kind="flow",
)
AREA_EXPANDED = Result(
    key="effective_area_expanded_uncertainty",
    symbol="U(A)",
    name="Expanded uncertainty of the effective area, 95 %",
    formula="U = k × √(sum of the squares of the components), k for 95 %",
    source="JCGM 100:2008, 5.1.2 and G.4.1",
    kind="port area",
    needs="repeats, or the scale's division",
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
    fixed = {key: place for place, key in enumerate(IN_JSON)}
    rows = [row for row in RESULTS if row.is_in_json]
    return sorted(rows, key=lambda row: fixed.get(row.key, len(fixed)))


def by_lift(found: Reduction) -> list[dict[str, float | int | bool | None]]:
    """A test's results lift by lift, by their keys in the order of JSON."""
    columns = {row.key: row.of(found) for row in in_json()}
    nothing = [None] * len(found.lifts)
    lists = [nothing if column is None else column.tolist() for column in columns.values()]
    return [dict(zip(columns, values, strict=True)) for values in zip(*lists, strict=True)]


def with_working() -> Iterator[tuple[Result, Callable[[Reduction, int], str]]]:
    """The results that have a working, each with what makes it."""
    for row in RESULTS:
        if row.numbers is not None:
            yield row, row.numbers
