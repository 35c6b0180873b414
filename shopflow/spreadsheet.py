"""Rows as CSV that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\x00", "＝", "＋", "－", "＠")
"""Beginnings that a spreadsheet may take for a formula (OWASP, CSV injection)."""

Cell = str | int | float | Decimal | None


def csv_text(header: Sequence[str] | None, rows: Iterable[Sequence[Cell]]) -> str:
    """The rows under their header, after RFC 4180; numbers stay numbers, nothing is empty.

    Without a header, more rows for the end of a file that has one.
    """
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    if header is not None:
        writer.writerow(header)
    writer.writerows([safe(cell) for cell in row] for row in rows)
    return file.getvalue()


def safe(cell: Cell) -> Cell:
    """A text that would be taken for a formula, with an apostrophe before it."""
    if isinstance(cell, str) and cell.startswith(FORMULA_SIGNS):
        return "'" + cell
    return cell


def letters(number: int) -> str:
    """Letters of a spreadsheet's column, counted from 1: A, B … Z, AA."""
    named = ""
    while number:
        number, rest = divmod(number - 1, 26)
        named = chr(65 + rest) + named
    return named
