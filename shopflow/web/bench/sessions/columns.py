"""A flow test's results for a spreadsheet: a row a lift, a column for every result and its U."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc import results
from shopflow.calc.array_types import Array
from shopflow.calc.reduction import Reduction
from shopflow.calc.result import Result
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si

DIGITS = 7
"""Significant digits of a cell: more than any bench reads, fewer than rounding disturbs."""


def header(units: UnitSystem) -> list[str]:
    """Names of the columns, with the reader's units."""
    return [name for row in results.RESULTS for name in _names(row, units)]


def rows(reduction: Reduction, units: UnitSystem) -> Iterator[list[Cell]]:
    """The cells of each lift; empty where the test does not give a result."""
    columns = [
        (column, units.unit(row.kind) if row.kind else "")
        for row in results.RESULTS
        for column in _columns(row, reduction)
    ]
    for lift in range(len(reduction.lifts)):
        yield [
            None if column is None else _cell(column[lift].item(), unit) for column, unit in columns
        ]


def _names(row: Result, units: UnitSystem) -> list[str]:
    name = f"{row.name}, {units.unit(row.kind)}" if row.kind else row.name
    return [name, f"± {name}, 95 %"] if row.errors else [name]


def _columns(row: Result, reduction: Reduction) -> list[Array | None]:
    return [row.of(reduction), row.expanded(reduction)] if row.errors else [row.of(reduction)]


def _cell(value: float | int | bool, unit: str) -> Cell:
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if isinstance(value, int):
        return value
    return float(f"{from_si(value, unit) if unit else value:.{DIGITS}g}")
