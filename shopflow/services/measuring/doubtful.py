"""Doubtful values: accepted as typed, but far from the others of their kind on the head.

A doubtful value stands until it is corrected or struck out. Nothing that would have somebody cut
metal is calculated from it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from sqlalchemy.orm import Session

from shopflow.calc.outliers import far_from_others
from shopflow.models import Measurement, Visit
from shopflow.services.measuring import usual_values
from shopflow.texts import gettext
from shopflow.units import Quantity, from_si, pretty, pretty_text

FAR = {"chamber volume": 0.05, "seat load": 0.5, "open load": 0.5}
"""Share by which a value may differ from the middle of its side of the head, by its kind's code.

Common practice, no source: chambers of one casting agree within a few percent, and springs of one
side are of one make.
"""


def of_visit(db: Session, visit: Visit) -> dict[Measurement, str]:
    """A sentence on each doubtful measurement of a head."""
    groups: dict[tuple[str, str, str], dict[str, Measurement]] = defaultdict(dict)
    for row in sorted(visit.measurements, key=lambda row: (row.at, row.id)):
        if row.kind.code in FAR:
            groups[row.kind.code, row.side, row.when][row.where] = row
    doubts: dict[Measurement, str] = {}
    for (code, side, _), rows in groups.items():
        usual = usual_values.holding(db, visit.head.engine_type, code, side)
        doubts |= _of_group(list(rows.values()), FAR[code], usual.value if usual else None)
    return doubts


def _of_group(
    rows: Sequence[Measurement], share: float, usual: Quantity | None
) -> Mapping[Measurement, str]:
    values = [row.value.si for row in rows]
    far = far_from_others(values, share, usual.si if usual else None)
    sound = [row for row, is_far in zip(rows, far, strict=True) if not is_far]
    return {
        row: _sentence(row, sound or [other for other in rows if other is not row], usual)
        for row, is_far in zip(rows, far, strict=True)
        if is_far
    }


def _sentence(row: Measurement, others: Sequence[Measurement], usual: Quantity | None) -> str:
    value = pretty_text(row.value.text)
    if usual is not None and len(others) < 2:
        return gettext(
            "{value} is far from the usual {usual}. Typing error?",
            value=value,
            usual=pretty_text(usual.text),
        )
    unit = row.value.unit
    low, high = (
        _number(pick(others, key=lambda other: other.value.si).value, unit) for pick in (min, max)
    )
    if low == high:
        return gettext(
            "{value} is far from the others ({other}). Typing error?",
            value=value,
            other=f"{low} {pretty(unit)}",
        )
    return gettext(
        "{value} is far from the others ({low} to {high}). Typing error?",
        value=value,
        low=low,
        high=f"{high} {pretty(unit)}",
    )


def _number(value: Quantity, unit: str) -> str:
    return value.number if value.unit == unit else f"{from_si(value.si, unit):.1f}"
