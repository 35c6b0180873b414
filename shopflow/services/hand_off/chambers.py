"""Chambers of a head matched to the largest: how much larger to grind each, and the ratios."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.calc import chambers as calc
from shopflow.calc.compression import clearance_volume, cylinder_volume
from shopflow.documents import ChamberOf, Chambers
from shopflow.models import Measurement, Visit, When
from shopflow.services.engine import cams
from shopflow.services.measuring import doubtful
from shopflow.texts import gettext, translated
from shopflow.units import Quantity, from_si, pretty, pretty_text

VOLUME = "chamber volume"
Sizes = Mapping[str, Quantity | None]


def of_head(db: Session, visit: Visit) -> Chambers | None:
    """A head's chambers; none while fewer than two of them are measured."""
    rows = _measured(visit)
    if len(rows) < 2:
        return None
    unit = max(rows, key=lambda row: row.value.si).value.unit
    numbers = [_number(row.value, unit) for row in rows]
    doubts = doubtful.of_visit(db, visit)
    in_doubt = [
        f"{_where(row)[:1].upper()}{_where(row)[1:]}: {doubts[row]}"
        for row in rows
        if row in doubts
    ]
    by = _to_grind(rows, numbers)
    sizes = _sizes(db, visit)
    ratios, fault = _ratios(rows, sizes)
    if in_doubt:
        by, ratios, fault = [Decimal(0) for _ in rows], [], ""
    equal = max(rows, key=lambda row: row.value.si).value.si
    return Chambers(
        each=tuple(
            ChamberOf(
                where=_where(row),
                volume=pretty_text(row.value.text),
                grind=_volume(larger, unit) if larger else "",
                ratio=ratio,
            )
            for row, larger, ratio in zip(
                rows,
                by,
                [_ratio(ratio) for ratio in ratios] or [""] * len(rows),
                strict=True,
            )
        ),
        state=_state(rows, numbers, unit, is_doubtful=bool(in_doubt)),
        to_grind=_grinding(rows, by, unit),
        in_doubt=tuple(in_doubt),
        spread=_volume(calc.spread(numbers), unit),
        when=translated(rows[0].when),
        equal_ratio=_ratio(_ratios_of([equal], sizes)[0]) if ratios else "",
        ratio_spread=f"{calc.spread(ratios):.2f}" if ratios else "",
        missing=fault,
        not_measured=_unmeasured(visit, rows),
    )


def _measured(visit: Visit) -> list[Measurement]:
    """The last volume of each chamber: after the work or, where none is, before it."""
    rows = [row for row in visit.measurements if row.kind.code == VOLUME]
    after = [row for row in rows if row.when is When.AFTER]
    ordered = sorted(after or rows, key=lambda row: (row.at, row.id))
    latest = {_where(row): row for row in ordered}
    return sorted(latest.values(), key=lambda row: (row.cylinder or 0, row.place))


def _where(row: Measurement) -> str:
    return row.where or gettext("place not recorded")


def _unmeasured(visit: Visit, rows: Sequence[Measurement]) -> str:
    """Cylinders of the head without a volume, in a sentence; empty where there are none."""
    plan = visit.head.plan
    measured = {row.cylinder for row in rows}
    names = [str(number) for number in (plan.cylinders if plan else ()) if number not in measured]
    return gettext("Not measured: cylinder {names}.", names=", ".join(names)) if names else ""


def _to_grind(rows: Sequence[Measurement], numbers: Sequence[Decimal]) -> list[Decimal]:
    """Volume each chamber is short of the largest, 0 within what a burette tells apart."""
    largest = max(row.value.si for row in rows)
    return [
        short if largest - row.value.si > calc.ALIKE else Decimal(0)
        for row, short in zip(rows, calc.short_of_largest(numbers), strict=True)
    ]


def _state(
    rows: Sequence[Measurement], numbers: Sequence[Decimal], unit: str, *, is_doubtful: bool
) -> str:
    """The chambers in a sentence: alike, or which is the largest; none where one is doubtful."""
    if is_doubtful:
        return ""
    values = [row.value.si for row in rows]
    if calc.spread(values) <= calc.ALIKE:
        low, high = _volume(min(numbers), unit), _volume(max(numbers), unit)
        if low == high:
            return gettext("Chambers match: all are {volume}.", volume=low)
        return gettext("Chambers match: {low} to {high}.", low=low, high=high)
    largest = [row for row in rows if row.value.si == max(values)]
    return gettext(
        "Largest {volume}, {where}.",
        volume=pretty_text(largest[0].value.text),
        where=", ".join(map(_where, largest)),
    )


def _grinding(rows: Sequence[Measurement], by: Sequence[Decimal], unit: str) -> str:
    """Sentence on how much larger to grind the smaller chambers; empty where none is."""
    cuts = [
        gettext("{where} {volume} larger", where=_where(row), volume=_volume(larger, unit))
        for row, larger in zip(rows, by, strict=True)
        if larger
    ]
    return gettext("Grind {cuts}.", cuts=", ".join(cuts)) if cuts else ""


def _sizes(db: Session, visit: Visit) -> Sizes:
    """Sizes of the engine by their names; bore and stroke of its cam where its type has none."""
    engine, note = visit.head.engine_type, visit.hand_off
    set_up = note.engine if note is not None else None
    cam = next((row for row in cams.of_owner(db, visit.job) if row.archived_at is None), None)
    return {
        gettext("bore"): engine.bore or (cam.bore if cam else None),
        gettext("stroke"): engine.stroke or (cam.stroke if cam else None),
        gettext("gasket bore"): set_up.gasket_bore if set_up else None,
        gettext("gasket thickness"): set_up.gasket_thickness if set_up else None,
        gettext("piston below deck"): set_up.deck_clearance if set_up else None,
        gettext("piston dish"): set_up.piston_dish if set_up else None,
    }


def _ratios(rows: Sequence[Measurement], sizes: Sizes) -> tuple[list[float], str]:
    """Compression ratio of each cylinder, or the sentence why there is none."""
    lacking = [name for name, size in sizes.items() if size is None]
    if lacking:
        named = ", ".join(lacking[:-1])
        names = (
            gettext("{named} and {last}", named=named, last=lacking[-1]) if named else lacking[0]
        )
        return [], gettext("Enter the {names} to show compression ratios.", names=names)
    try:
        return _ratios_of([row.value.si for row in rows], sizes), ""
    except ValueError:
        fault = gettext("This deck and dish leave no volume above the piston: check both.")
        return [], fault


def _ratios_of(volumes: Sequence[float], sizes: Sizes) -> list[float]:
    """Ratios of chambers of these volumes. Raises ValueError where no volume is left."""
    bore, stroke, gasket_bore, gasket, deck, dish = (
        size.si if size is not None else 0.0 for size in sizes.values()
    )
    rest = clearance_volume(
        0.0, cylinder_volume(gasket_bore, gasket), cylinder_volume(bore, deck), dish
    )
    return calc.ratios(float(cylinder_volume(bore, stroke)), volumes, float(rest))


def _number(value: Quantity, unit: str) -> Decimal:
    if value.unit == unit:
        return Decimal(value.number)
    return Decimal(f"{from_si(value.si, unit):.2f}")


def _volume(number: Decimal, unit: str) -> str:
    return f"{number:f} {pretty(unit)}"


def _ratio(ratio: float) -> str:
    return f"{ratio:.2f} : 1"
