"""Readings as typed, to rows and back."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from shopflow.models import BenchSession, Reading, SessionLift
from shopflow.testfile import ExcludedRun, SessionDocument
from shopflow.texts import gettext

Values = dict[str, Any]


def rows(document: SessionDocument) -> list[SessionLift]:
    """Lifts in order, each with its runs as taken: the excluded ones back in their places."""
    return [
        SessionLift(**lift, readings=[Reading(**run) for run in runs])
        for lift, runs in _values(document)
    ]


def in_words(document: SessionDocument, index: int) -> str:
    """Readings at a test's lift, counted from 0, as typed."""
    typed = ", ".join(map(str, document.flows[index]))
    if not document.pressures:
        return f"{typed} {document.flow_unit}"
    across = ", ".join(map(str, document.pressures[index]))
    return gettext(
        "{typed} {flow_unit}, at {across} {pressure_unit}",
        typed=typed,
        flow_unit=document.flow_unit,
        across=across,
        pressure_unit=document.pressure_unit,
    )


def _values(document: SessionDocument) -> Iterator[tuple[Values, list[Values]]]:
    """The columns of each lift and of its runs."""
    runs_by_lift = {
        lift: list(_counted(document, number)) for number, lift in enumerate(document.lifts)
    }
    for item in sorted(document.excluded, key=lambda run: run.run):
        runs_by_lift.setdefault(item.lift, []).insert(item.run - 1, item)
    for position, lift in enumerate(sorted(runs_by_lift), start=1):
        values = {"position": position, "lift_typed": lift, "lift_si": document.lift_si(lift)}
        runs = [
            _reading(document, number, run)
            for number, run in enumerate(runs_by_lift[lift], start=1)
        ]
        yield values, runs


def _counted(document: SessionDocument, row: int) -> Iterator[ExcludedRun]:
    """The runs that count at a lift, in the shape of those left out but for the reason."""
    runs = document.flows[row]
    pressures = document.pressures[row] if document.pressures else (None,) * len(runs)
    for flow, pressure in zip(runs, pressures, strict=True):
        yield ExcludedRun(document.lifts[row], 0, flow, "", pressure)


def _reading(document: SessionDocument, number: int, run: ExcludedRun) -> Values:
    """A run to be stored; one without a reason is counted."""
    across = run.pressure
    return {
        "run": number,
        "flow_typed": run.flow,
        "flow_si": document.indicated_flow(run.flow),
        "pressure_typed": across,
        "pressure_si": None if across is None else document.pressure_si(across),
        "excluded": bool(run.reason),
        "excluded_because": run.reason,
    }


def pressures(
    row: BenchSession, counted_lifts: list[SessionLift]
) -> tuple[tuple[Decimal, ...], ...]:
    """The pressure of each run that counts; none where the session has none."""
    if not row.pressure_unit:
        return ()
    return tuple(
        tuple(
            run.pressure_typed
            for run in lift.readings
            if not run.excluded and run.pressure_typed is not None
        )
        for lift in counted_lifts
    )
