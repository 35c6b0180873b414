"""The results of a flow test as the certificate states them, for a spreadsheet: a row a lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.calc import results
from shopflow.calc.result import Result
from shopflow.documents import ResultPoint, SessionResult
from shopflow.spreadsheet import Cell, csv_text
from shopflow.units import UnitSystem, from_si

DIGITS = 7
"""Significant digits of a cell: more than any bench reads, fewer than rounding disturbs."""

Column = tuple[str, list[Cell]]


def results_csv(session: SessionResult, units: UnitSystem) -> str:
    """Every result of each lift with its expanded uncertainty for 95 %, in the document's units."""
    columns = [column for row in results.RESULTS for column in _columns(session.points, row, units)]
    return csv_text(
        [name for name, _ in columns], zip(*(cells for _, cells in columns), strict=True)
    )


def _columns(points: Sequence[ResultPoint], row: Result, units: UnitSystem) -> Iterator[Column]:
    """A result's values, and their uncertainties beside them; neither where none is stated."""
    unit = units.unit(row.kind) if row.kind else ""
    name = f"{row.name}, {unit}" if unit else str(row.name)
    values = [point.value(row.key) for point in points]
    if any(value is not None for value in values):
        yield name, [_cell(value, unit) for value in values]
    if row.errors is None:
        return
    margins = [None if point.margins is None else point.margin(row.key) for point in points]
    if any(margin is not None for margin in margins):
        yield f"± {name}, 95 %", [_cell(margin, unit) for margin in margins]


def _cell(value: float | None, unit: str) -> Cell:
    if value is None or isinstance(value, int):
        return ("yes" if value else "no") if isinstance(value, bool) else value
    return float(f"{from_si(value, unit) if unit else value:.{DIGITS}g}")
