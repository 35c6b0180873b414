"""The commands that need no records: reduce and compare session files."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence

from shopflow import sentences, testfile, units
from shopflow.calc.array_types import Array
from shopflow.calc.comparison import ComparedPoint, Comparison, across_set_ups
from shopflow.calc.comparison import compare as compare_reductions
from shopflow.calc.reduction import Reduction
from shopflow.calc.reduction import reduce as reduce_test
from shopflow.calc.result import Result, Table
from shopflow.calc.results import of_table
from shopflow.calc.sanity import comparison_warnings, warnings
from shopflow.calc.set_up import Unlike, unlike_parts
from shopflow.calc.standard_flow import standard_flow
from shopflow.cli import compared
from shopflow.cli.files import at_lifts, read_all
from shopflow.cli.terminal import one_line, print_json, print_table, transposed, warn
from shopflow.testfile import SessionDocument
from shopflow.testfile.results import results_json
from shopflow.texts import gettext, translated

_MEANS = (
    "mean_gain_percent",
    "mean_area_gain_percent",
    "mean_area_gain_expanded_uncertainty_percent",
    "mean_verdict",
)
"""Fields of a comparison's JSON beside its points."""

_FLOW_PLACES = {"cfm": 1, "m3/h": 1, "L/s": 2, "m3/s": 5}


def reduce(arguments: argparse.Namespace) -> int:
    """Print a session's figures."""
    document = testfile.read(arguments.file)
    reduction = reduce_test(document.flow_test())
    warn(at_lifts(document, warnings(reduction)))
    if arguments.json:
        print_json(results_json(document, reduction))
    else:
        _print_reduction(document, reduction)
    return 0


def compare(arguments: argparse.Namespace) -> int:
    """Print one session against another."""
    before, after = read_all(
        *((path, testfile.read) for path in (arguments.before, arguments.after))
    )
    first, second = reduce_test(before.flow_test()), reduce_test(after.flow_test())
    unlike = unlike_parts(before.set_up, after.set_up) if before.side == after.side else ()
    if arguments.set_ups_meant:
        first, second = across_set_ups(first), across_set_ups(second)
    comparison = compare_reductions(first, second)
    warn(gettext("before: {text}", text=text) for text in at_lifts(before, warnings(first)))
    warn(gettext("after: {text}", text=text) for text in at_lifts(after, warnings(second)))
    warn(doubt.text for doubt in comparison_warnings(first, second))
    is_gain = compared.may_gain(before, after)
    if arguments.json:
        print_json({**_comparison_json(comparison, is_gain), **_set_ups_json(comparison, unlike)})
        return 0
    _print_compared(before, after)
    compared.print_set_ups(before, after, unlike, comparison)
    if before.side != after.side:
        compared.print_ratio(after, first, second)
    elif comparison.points:
        print_table(*transposed(_comparison_columns(after, comparison, is_gain)))
        print()
        compared.print_verdict(after, first, second, comparison, is_gain)
    else:
        print(gettext("No lift in common."))
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "reduce": reduce,
    "compare": compare,
}


def _json_object(point: ComparedPoint) -> dict[str, float | int | bool | None]:
    return {name: getattr(point, name) for name in point.__slots__}


def _print_reduction(document: SessionDocument, reduction: Reduction) -> None:
    _print_heading(document)
    columns = _columns(document, reduction)
    print_table(*transposed(columns))
    flow = _flow_unit(document)
    mean = _figure(reduction.mean_flow, flow, _FLOW_PLACES[flow])
    print(
        gettext(
            "Mean flow by the root over these lifts: {mean} {flow}",
            mean=mean,
            flow=units.pretty(flow),
        )
    )
    for run in document.excluded:
        text = gettext(
            "Excluded: lift {lift} {lift_unit}, run {run}: {flow} {flow_unit} ({reason})",
            lift=run.lift,
            lift_unit=document.lift_unit,
            run=run.run,
            flow=run.flow,
            flow_unit=document.flow_unit,
            reason=run.reason,
        )
        print(one_line(text))
    print()
    for note in _notes(document, reduction):
        print(note)


def _print_heading(document: SessionDocument) -> None:
    direction = gettext("air drawn in") if document.side == "intake" else gettext("air blown out")
    cylinder = (
        gettext("cylinder {cylinder}", cylinder=document.cylinder) if document.cylinder else ""
    )
    named = (document.engine_type, document.head, cylinder, document.stage)
    if document.title:
        print(one_line(document.title))
    print(one_line(" · ".join([*filter(None, named), f"{translated(document.side)}, {direction}"])))
    print()


def _columns(document: SessionDocument, reduction: Reduction) -> list[list[str]]:
    """The table's columns, each from its two rows of heading down; none without results."""
    columns = [
        [gettext("Lift"), document.lift_unit, *map(str, document.lifts)],
        ["L/D", "", *(f"{depth:.3f}" for depth in reduction.lift_over_diameter)],
        [gettext("Runs"), "", *map(str, reduction.run_counts)],
    ]
    for row in (*of_table(Table.FLOWS), *of_table(Table.COEFFICIENTS)):
        columns += _result_columns(row, document, reduction)
    return [column for column in columns if any(column[2:])]


def _result_columns(
    row: Result, document: SessionDocument, reduction: Reduction
) -> list[list[str]]:
    """The column of a result; of a flow or an area its uncertainty beside it."""
    unit, places = _unit_of(row, document)
    head, under = row.short
    columns = [
        [head, units.pretty(unit) if unit else under, *_cells(row.of(reduction), unit, places)]
    ]
    if row.has_margin_column and row.table is Table.FLOWS:
        cells = _cells(row.expanded(reduction), unit, places)
        columns.append(["±", units.pretty(unit or ""), *cells])
    return columns


def _unit_of(row: Result, document: SessionDocument) -> tuple[str | None, int]:
    """The unit a result is shown in, and its decimal places: flows as they were typed."""
    if not row.kind:
        return None, 4
    if row.kind == "flow":
        flow = _flow_unit(document)
        return flow, _FLOW_PLACES[flow]
    return _system(document).choices[row.kind]


def _cells(column: Array | None, unit: str | None, places: int) -> list[str]:
    return [] if column is None else [_figure(value, unit, places) for value in column.tolist()]


def _notes(document: SessionDocument, reduction: Reduction) -> list[str]:
    """Notes below the table that define its results."""
    density = _system(document).text(reduction.air_density, "density")
    reference = _pretty(document.reference_pressure)
    coefficients = (
        gettext("Cd: effective area over the valve's curtain, head and least geometric area.")
        if reduction.cd_least_area is not None
        else gettext("Cd: effective area over the valve's curtain, head area.")
    )
    notes = [
        gettext(
            "As tested: at {test_pressure} and room-air density {density}.",
            test_pressure=_pretty(document.test_pressure),
            density=density,
        ),
        gettext(
            "Isentropic: through the same effective area at {reference}, same air.",
            reference=reference,
        ),
        gettext(
            "Root: at {reference} by the root of the pressures, a convention; same air.",
            reference=reference,
        ),
        gettext("Eff. area: of an ideal nozzle that passes as much."),
        gettext("±: expanded uncertainty for 95 %.")
        if reduction.area_errors.is_stated
        else gettext(
            "The uncertainty is not stated: enter one division of the scale as the resolution, or "
            "repeat a lift."
        ),
        coefficients,
    ]
    if reduction.test.fitted:
        notes.append(gettext("Calibration: {words}.", words=reduction.test.fitted.words))
    if document.port_area:
        notes += [
            gettext(
                "Velocity: over the port's {port_area}, as if incompressible; energy: "
                "its kinetic energy flux.",
                port_area=_pretty(document.port_area),
            )
        ]
    return notes


def _comparison_json(comparison: Comparison, is_gain: bool) -> dict[str, object]:
    points = [
        {**_json_object(point), "verdict": compared.json_verdict(point.verdict, is_gain)}
        for point in comparison.points
    ]
    means = {name: getattr(comparison, name) for name in _MEANS}
    verdict = compared.json_verdict(comparison.mean_verdict, is_gain)
    return {"points": points, **means, "mean_verdict": verdict}


def _set_ups_json(comparison: Comparison, unlike: Sequence[Unlike]) -> dict[str, object]:
    """The parts of the set-ups that differ, and whether that is meant."""
    parts = [{"part": row.part.value, "before": row.first, "after": row.other} for row in unlike]
    return {
        "set_up_differences": parts,
        "set_ups_meant": bool(unlike) and not comparison.areas.unlike,
    }


def _print_compared(before: SessionDocument, after: SessionDocument) -> None:
    for word, document in ((gettext("Before"), before), (gettext("After"), after)):
        named = document.title or document.stage or document.head or gettext("no title")
        print(one_line(f"{word + ':':7} {named} · {translated(document.side)}"))
    print()


def _comparison_columns(
    after: SessionDocument, comparison: Comparison, is_gain: bool
) -> list[list[str]]:
    flow, system, points = _flow_unit(after), _system(after), comparison.points
    typed = {after.lift_si(lift): str(lift) for lift in after.lifts}
    area, decimals = system.unit("port area"), _FLOW_PLACES[flow]
    pressure = after.reference_pressure.si

    def areas(head: str, name: str) -> list[str]:
        figures = [_figure(getattr(point, name), area, _area_places(system)) for point in points]
        return [head, units.pretty(area), *figures]

    def flows(head: str, name: str) -> list[str]:
        passed = [standard_flow(getattr(point, name), after.side, pressure) for point in points]
        return [head, units.pretty(flow), *(_figure(percent, flow, decimals) for percent in passed)]

    uncertainties = [point.area_gain_expanded_uncertainty_percent for point in points]
    before, later = "effective_area_before", "effective_area_after"
    return [
        [gettext("Lift"), after.lift_unit, *(typed[point.lift] for point in points)],
        areas(gettext("Area before"), before),
        areas(gettext("Area after"), later),
        flows(gettext("Flow before"), before),
        flows(gettext("Flow after"), later),
        [
            gettext("Gain") if is_gain else gettext("Difference"),
            "%",
            *(f"{point.area_gain_percent:+.1f}" for point in points),
        ],
        ["±", "%", *(_figure(percent, None, 1) for percent in uncertainties)],
        ["", "", *(sentences.called(point.verdict, is_gain) for point in points)],
    ]


def _area_places(system: units.UnitSystem) -> int:
    return system.choices["port area"][1]


def _flow_unit(document: SessionDocument) -> str:
    """The unit flows are shown in: the one typed, or the range's."""
    if document.flow_unit == "%" and document.range:
        return document.range.unit
    return document.flow_unit


def _system(document: SessionDocument) -> units.UnitSystem:
    """The units of the figures that nobody typed: those of the lifts."""
    return units.US_CUSTOMARY if document.lift_unit == "in" else units.SI


def _figure(value: float | None, symbol: str | None, decimals: int) -> str:
    """A result, in a unit where it has one; empty for None."""
    if value is None:
        return ""
    return f"{units.from_si(value, symbol) if symbol else value:.{decimals}f}"


def _pretty(quantity: units.Quantity) -> str:
    return f"{quantity.number} {units.pretty(quantity.unit)}"
