"""The results of a flow test as the certificate states them, for a spreadsheet: a row a lift."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc import results
from shopflow.calc.result import Result
from shopflow.documents import ResultPoint, SessionResult
from shopflow.spreadsheet import Cell, csv_text
from shopflow.units import UnitSystem, from_si

DIGITS = 7
"""Significant digits of a cell: more than any bench reads, fewer than rounding disturbs."""


def results_csv(session: SessionResult, units: UnitSystem) -> str:
    """Every result of each lift with its expanded uncertainty for 95 %, in the document's units."""
    shown = [row for row in results.RESULTS if _is_stated(session, row)]
    header = [name for row in shown for name in _names(session, row, units)]
    rows = (
        [cell for row in shown for cell in _cells(session, row, point, units)]
        for point in session.points
    )
    return csv_text(header, rows)


def _is_stated(session: SessionResult, row: Result) -> bool:
    return any(point.value(row.key) is not None for point in session.points)


def _has_margin(session: SessionResult, row: Result) -> bool:
    return any(_margin(point, row) is not None for point in session.points)


def _margin(point: ResultPoint, row: Result) -> float | None:
    return None if point.margins is None else point.margin(row.key)


def _names(session: SessionResult, row: Result, units: UnitSystem) -> Iterator[str]:
    name = f"{row.name}, {units.unit(row.kind)}" if row.kind else str(row.name)
    yield name
    if _has_margin(session, row):
        yield f"± {name}, 95 %"


def _cells(
    session: SessionResult, row: Result, point: ResultPoint, units: UnitSystem
) -> Iterator[Cell]:
    unit = units.unit(row.kind) if row.kind else ""
    yield _cell(point.value(row.key), unit)
    if _has_margin(session, row):
        yield _cell(_margin(point, row), unit)


def _cell(value: float | None, unit: str) -> Cell:
    if value is None or isinstance(value, int):
        return ("yes" if value else "no") if isinstance(value, bool) else value
    return float(f"{from_si(value, unit) if unit else value:.{DIGITS}g}")
