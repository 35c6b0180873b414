"""Rows as a CSV file to keep."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flask import Response

from shopflow.spreadsheet import Cell, csv_text


def csv_answer(name: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Response:
    """The rows as a file to keep; `name` holds plain letters, digits and hyphens."""
    headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
    # The mark tells a spreadsheet that the letters are UTF-8.
    text = "\ufeff" + csv_text(header, rows)
    return Response(text, mimetype="text/csv", headers=headers)
