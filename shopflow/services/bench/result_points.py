"""A flow test's results lift by lift, as documents hold them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from shopflow import documents
from shopflow.calc import results
from shopflow.calc.array_types import Array
from shopflow.calc.reduction import Reduction

OF_POINT = frozenset(field.name for field in dataclasses.fields(documents.ResultPoint))
"""Results that have a field of their own in a document; the others are in `more`."""

Columns = Mapping[str, Array | None]


def result_points(reduction: Reduction) -> tuple[documents.ResultPoint, ...]:
    """The results of every lift, each with its uncertainty."""
    values: Columns = {row.key: row.of(reduction) for row in results.RESULTS}
    margins: Columns = {row.key: row.expanded(reduction) for row in results.stated()}
    return tuple(
        documents.ResultPoint(
            **{key: at(column, index) for key, column in values.items() if key in OF_POINT},
            expanded_uncertainty=float(reduction.flow_expanded_uncertainty[index]),
            margins=_margins(margins, index) if reduction.area_errors.is_stated else None,
            more=tuple(
                documents.LaterResult(
                    row.key, at(values[row.key], index), at(margins[row.key], index)
                )
                for row in results.stated()
                if row.key not in OF_POINT
            ),
        )
        for index in range(len(reduction.lifts))
    )


def at(column: Array | None, index: int) -> Any:
    """The value of a column at one lift, as a plain number; None where there is no column."""
    return None if column is None else column[index].item()


def _margins(columns: Columns, index: int) -> documents.Margins:
    """The uncertainties that have a field of their own."""
    names = [field.name for field in dataclasses.fields(documents.Margins)]
    return documents.Margins(**{name: at(columns[name], index) for name in names})
