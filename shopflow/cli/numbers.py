"""The commands that need no records: reduce and compare session files."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from shopflow import sessionfile, units
from shopflow.calc.comparison import ComparedPoint, Comparison
from shopflow.calc.comparison import compare as compare_reductions
from shopflow.calc.reduction import Point, Reduction
from shopflow.calc.reduction import reduce as reduce_test
from shopflow.calc.sanity import warnings
from shopflow.errors import Fault, FaultsError
from shopflow.sessionfile import SessionDocument


def reduce(arguments: argparse.Namespace) -> int:
    """Print a session's figures."""
    document = sessionfile.read(arguments.file)
    reduction = reduce_test(document.flow_test())
    _warn(_doubts(document, reduction))
    if arguments.json:
        _print_json(_reduction_json(document, reduction))
    else:
        _print_reduction(document, reduction)
    return 0


def compare(arguments: argparse.Namespace) -> int:
    """Print one session against another."""
    before, after = _read_both(arguments.before, arguments.after)
    first, second = reduce_test(before.flow_test()), reduce_test(after.flow_test())
    comparison = compare_reductions(first, second)
    _warn([f"before: {text}" for text in _doubts(before, first)])
    _warn([f"after: {text}" for text in _doubts(after, second)])
    _warn(_unlike(before, after, comparison))
    if arguments.json:
        _print_json(
            {
                "points": [_json_object(point) for point in comparison.points],
                "mean_gain_percent": comparison.mean_gain_percent,
            }
        )
    else:
        _print_comparison(before, after, comparison)
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "reduce": reduce,
    "compare": compare,
}


def _read_both(*paths: Path) -> list[SessionDocument]:
    """Both documents, or the faults of both, each naming its file."""
    documents, faults = [], []
    for path in paths:
        try:
            documents.append(sessionfile.read(path))
        except FaultsError as error:
            faults += [Fault(path.name, str(fault)) for fault in error.faults]
    if faults:
        raise FaultsError(faults)
    return documents


def _unlike(before: SessionDocument, after: SessionDocument, comparison: Comparison) -> list[str]:
    """What makes two sessions doubtful to compare."""
    found = []
    if before.side != after.side:
        found.append(f"an {before.side} side is compared with an {after.side} side")
    if before.reference_pressure.si != after.reference_pressure.si:
        found.append(
            f"flows are stated at {before.reference_pressure} before and "
            f"{after.reference_pressure} after: the gain is not of like figures"
        )
    if not comparison.points:
        found.append("the two sessions have no range of lift in common")
    return found


def _doubts(document: SessionDocument, reduction: Reduction) -> list[str]:
    """The warnings about a session, each naming its lift as typed."""
    return [
        warning.text
        if warning.place is None
        else f"lift {document.lifts[warning.place]} {document.lift_unit}: {warning.text}"
        for warning in warnings(reduction)
    ]


def _warn(texts: Sequence[str]) -> None:
    for text in texts:
        print(f"warning: {text}", file=sys.stderr)


def _print_json(content: object) -> None:
    print(json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1))


def _json_object(point: Point | ComparedPoint) -> dict[str, float | int | bool | None]:
    return {name: getattr(point, name) for name in point.__slots__}


def _reduction_json(document: SessionDocument, reduction: Reduction) -> dict[str, object]:
    return {
        "schema": 1,
        "title": document.title,
        "side": document.side,
        "stage": document.stage,
        "air_density": reduction.air_density,
        "mean_flow": reduction.mean_flow,
        "points": [_json_object(point) for point in reduction.points],
    }


def _flow_unit(document: SessionDocument) -> str:
    """The unit flows are shown in: the one typed, or the range's."""
    if document.flow_unit == "%" and document.range:
        return document.range.unit
    return document.flow_unit


def _figure(si: float | None, symbol: str, places: int) -> str:
    return "-" if si is None else f"{units.from_si(si, symbol):.{places}f}"


def _plain(value: float | None, places: int) -> str:
    return "-" if value is None else f"{value:.{places}f}"


def _print_reduction(document: SessionDocument, reduction: Reduction) -> None:
    flow, lift = _flow_unit(document), document.lift_unit
    places = 3 if lift == "in" else 2
    named = [document.title, document.engine_type, document.head, document.stage]
    print("  ".join(text for text in [*named, document.side] if text))
    print(
        f"Flow in {flow} at {document.reference_pressure} and room-air density "
        f"{reduction.air_density:.4f} kg/m3, tested at {document.test_pressure}. "
        "Uncertainty with k = 2."
    )
    head = [f"Lift {lift}", "L/D", "Runs", f"Flow {flow}", "+/-", "Cd curtain", "Cd head",
            "Cd least", "v m/s", "KE W"]  # fmt: skip
    rows = [
        [
            _figure(point.lift, lift, places),
            _plain(point.lift_over_diameter, 3),
            str(point.runs),
            _figure(point.flow, flow, 2),
            _figure(point.flow_expanded_uncertainty, flow, 2),
            _plain(point.cd_curtain, 4),
            _plain(point.cd_head, 4),
            _plain(point.cd_least_area, 4),
            _plain(point.velocity, 1),
            _plain(point.kinetic_energy_flux, 1),
        ]
        for point in reduction.points
    ]
    _print_table(head, rows)
    print(f"Mean flow over these lifts: {_figure(reduction.mean_flow, flow, 2)} {flow}")


def _print_comparison(
    before: SessionDocument, after: SessionDocument, comparison: Comparison
) -> None:
    flow, lift = _flow_unit(after), after.lift_unit
    places = 3 if lift == "in" else 2
    names = [document.title or document.stage or "-" for document in (before, after)]
    print(f"Before: {names[0]}   After: {names[1]}")
    head = [f"Lift {lift}", f"Before {flow}", "After", "Gain", "+/-", "Gain %", ""]
    rows = [
        [
            _figure(point.lift, lift, places),
            _figure(point.before, flow, 2),
            _figure(point.after, flow, 2),
            _figure(point.gain, flow, 2),
            _figure(point.gain_expanded_uncertainty, flow, 2),
            f"{point.gain_percent:+.1f}",
            "" if point.significant else "not shown to differ",
        ]
        for point in comparison.points
    ]
    _print_table(head, rows)
    if comparison.mean_gain_percent is not None:
        print(f"Mean gain over the common lifts: {comparison.mean_gain_percent:+.2f} %")


def _print_table(head: list[str], rows: list[list[str]]) -> None:
    widths = [max(len(row[place]) for row in [head, *rows]) for place in range(len(head))]
    for row in [head, *rows]:
        cells = (cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        print("  ".join(cells).rstrip())
