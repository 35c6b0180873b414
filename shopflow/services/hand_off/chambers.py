"""Chambers of a head brought to the largest: what to take out of each, and the ratios."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.calc import chambers as calc
from shopflow.calc.compression import clearance_volume, cylinder_volume
from shopflow.documents import ChamberOf, Chambers
from shopflow.models import Measurement, Visit, When
from shopflow.services.engine import cams
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
    to_take_out = calc.to_take_out(numbers)
    sizes = _sizes(db, visit)
    ratios, fault = _ratios(rows, sizes)
    equal = max(rows, key=lambda row: row.value.si).value.si
    return Chambers(
        each=tuple(
            ChamberOf(
                where=_where(row),
                volume=pretty_text(row.value.text),
                take_out=_volume(out, unit) if out else "",
                ratio=ratio,
            )
            for row, out, ratio in zip(
                rows,
                to_take_out,
                [_ratio(ratio) for ratio in ratios] or [""] * len(rows),
                strict=True,
            )
        ),
        summary=_summary(rows, to_take_out, unit),
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


def _summary(rows: Sequence[Measurement], to_take_out: Sequence[Decimal], unit: str) -> str:
    """The largest chamber and what to take out of the others, in a sentence or two."""
    largest = [row for row, out in zip(rows, to_take_out, strict=True) if not out]
    volume = pretty_text(largest[0].value.text)
    if len(largest) == len(rows):
        return gettext("All chambers are {volume}.", volume=volume)
    cuts = [
        gettext("{volume} out of {where}", volume=_volume(out, unit), where=_where(row))
        for row, out in zip(rows, to_take_out, strict=True)
        if out
    ]
    return gettext(
        "Largest {volume}, {where}. Take {cuts}.",
        volume=volume,
        where=", ".join(map(_where, largest)),
        cuts=", ".join(cuts),
    )


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
