"""Diameters that a flow test states, against those measured on its head at that stage."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.models import BenchSession, Measurement, When
from shopflow.services.bench.sizes import CODES, COLUMNS, NAMES, cut_since, of_cylinder, tested_at
from shopflow.texts import gettext
from shopflow.units import Quantity, from_si, pretty_text

DIAMETERS = ("head_diameter", "throat_diameter", "stem_diameter")
"""Sizes that a valve's opening depends on most."""

UNLIKE = 0.005
"""Relative difference, 1 % of an area, from which two diameters are called unlike; common practice,
no source."""

DIGITS = {"mm": 2, "in": 3}


def unlike(row: BenchSession) -> list[str]:
    """Each diameter of a test that is not the one measured, as "throat diameter 25.8 mm, sheet
    25.42 mm"."""
    return [
        gettext(
            "{size} {stated}, sheet {measured}",
            size=str(NAMES[key]).lower(),
            stated=pretty_text(stated.text),
            measured=_in_its_unit(measured, stated),
        )
        for key, stated, measured in _pairs(row)
        if abs(stated.si - measured) > UNLIKE * measured
    ]


def _pairs(row: BenchSession) -> Iterator[tuple[str, Quantity, float]]:
    """Each diameter stated with the mean of those measured, m."""
    when = stage(row)
    for key in DIAMETERS if when is not None else ():
        stated: Quantity | None = getattr(row, COLUMNS[key])
        latest = {
            (item.cylinder, item.valve): item.value.si
            for item in row.job_head.measurements
            if CODES.get(item.kind.code) == key and item.when is when and _is_of(item, row)
        }
        if stated is not None and latest:
            yield key, stated, sum(latest.values()) / len(latest)


def stage(row: BenchSession) -> When | None:
    """The stage at which a test's head was measured as it was tested; none in mid-work."""
    if row.after_operation is None:
        return When.BEFORE
    return When.AFTER if cut_since(row.job_head, tested_at(row)) is None else None


def _is_of(item: Measurement, row: BenchSession) -> bool:
    return item.side in ("", row.side) and of_cylinder(item, row.cylinder.strip())


def _in_its_unit(measured: float, stated: Quantity) -> str:
    """A diameter in the unit of another."""
    return f"{from_si(measured, stated.unit):.{DIGITS.get(stated.unit, 3)}f} {stated.unit}"
