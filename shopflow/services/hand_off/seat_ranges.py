"""Seats of a head as the assembler gets them: each side by itself, from least to greatest."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.documents import Figure
from shopflow.models import Measurement, Visit, When
from shopflow.models.places import SIDES
from shopflow.services.springs import seat_loads
from shopflow.texts import gettext, ngettext
from shopflow.units import from_si, pretty, pretty_text


def seat_figures(visit: Visit) -> Iterator[Figure]:
    """Angle, width and run-out of a head's seats after the work, by side; the worst run-out named.

    An angle that is not measured is that of the last flow test, and said to be so. Nothing of a
    head whose seats nobody measured or tested.
    """
    for side in SIDES:
        angles = _latest(visit, "seat angle", side)
        tested = seat_loads.seat_on_file(visit, side)
        names = _names(side)
        if angles:
            yield _range(names["seat angle"], angles)
        elif tested is not None:
            working = gettext("as flow tested, not measured after the work")
            yield Figure(names["seat angle"], pretty_text(tested.text), working)
        widths, run_outs = (_latest(visit, code, side) for code in ("seat width", "seat run-out"))
        if (widths or run_outs) and not angles and tested is None:
            yield Figure(names["seat angle"], gettext("not recorded"), gettext("measure it"))
        if widths:
            yield _range(names["seat width"], widths)
        if run_outs:
            worst = max(run_outs, key=lambda row: row.value.si)
            working = worst.where
            if len(run_outs) > 1:
                working = gettext(
                    "the worst of {count}, {where}", count=len(run_outs), where=working
                )
            yield Figure(names["seat run-out"], pretty_text(worst.value.text), working)


def _names(side: str) -> dict[str, str]:
    if side == "intake":
        return {
            "seat angle": gettext("Seat angle, intake"),
            "seat width": gettext("Seat width, intake"),
            "seat run-out": gettext("Seat run-out, intake"),
        }
    return {
        "seat angle": gettext("Seat angle, exhaust"),
        "seat width": gettext("Seat width, exhaust"),
        "seat run-out": gettext("Seat run-out, exhaust"),
    }


def _latest(visit: Visit, code: str, side: str) -> list[Measurement]:
    """The last value at each seat of a side; one of no certain valve only where no other is."""
    rows = [
        row
        for row in sorted(visit.measurements, key=lambda row: (row.at, row.id))
        if row.kind.code == code and row.side == side and row.when is When.AFTER
    ]
    named = [row for row in rows if row.valve is not None]
    return list({row.where: row for row in named or rows}.values())


def _range(name: str, rows: list[Measurement]) -> Figure:
    least, greatest = (pick(rows, key=lambda row: row.value.si) for pick in (min, max))
    count = ngettext("{num} seat measured", "{num} seats measured", len(rows))
    if least.value.si == greatest.value.si:
        return Figure(name, pretty_text(least.value.text), count)
    unit = greatest.value.unit
    low = least.value.number if least.value.unit == unit else f"{from_si(least.value.si, unit):.3f}"
    value = gettext("{low} to {high}", low=low, high=f"{greatest.value.number} {pretty(unit)}")
    return Figure(name, value, count)
