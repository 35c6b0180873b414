"""Rows as CSV that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from flask import Response

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
"""Beginnings that a spreadsheet may take for a formula (OWASP, CSV injection)."""

Cell = str | int | float | Decimal | None


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """The rows under their header, after RFC 4180; numbers stay numbers, nothing is empty."""
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(header)
    writer.writerows([_safe(cell) for cell in row] for row in rows)
    return file.getvalue()


def csv_answer(name: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Response:
    """The rows as a file to keep; `name` holds plain letters, digits and hyphens."""
    headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
    # The mark tells a spreadsheet that the letters are UTF-8.
    text = "\ufeff" + csv_text(header, rows)
    return Response(text, mimetype="text/csv", headers=headers)


def _safe(cell: Cell) -> Cell:
    """A text that would be taken for a formula, with an apostrophe before it."""
    if isinstance(cell, str) and cell.startswith(FORMULA_SIGNS):
        return "'" + cell
    return cell
