"""Figures of the engine a head goes on, from its hand-off note and what was measured on it.

What is missing is named; nothing is assumed in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from shopflow.documents import Figure
from shopflow.errors import ValidationError
from shopflow.models import EngineSetUp, HandOffNote, Measurement, Visit, When
from shopflow.services.hand_off import engine_calculations
from shopflow.services.measuring import doubtful
from shopflow.texts import gettext, lazy
from shopflow.units import Quantity, UnitSystem, from_si, pretty_text, to_si

COMPRESSION = ("gasket_bore", "gasket_thickness", "deck_clearance", "piston_dish")
GAS = ("intake_temperature", "exhaust_temperature", "fuel_to_air")
TURBINE = ("gas_flow", "turbine_outlet_pressure")
MISSING = lazy("not calculated")


def engine_figures(db: Session, note: HandOffNote, units: UnitSystem) -> tuple[Figure, ...]:
    """Compression, gas volumes and turbine power, each where something was entered for it."""
    engine = note.engine
    if engine is None:
        return ()
    figures = list(_taken_off(note.job_head, units))
    if _any(engine, (*COMPRESSION, "chamber_footprint")):
        figures += _compression(db, note.job_head, engine)
    if _any(engine, (*GAS, *TURBINE)):
        figures += _gas_volumes(note, engine)
    if _any(engine, TURBINE):
        figures += _turbine(note, engine)
    return tuple(figures)


def _any(engine: EngineSetUp, names: Sequence[str]) -> bool:
    return any(getattr(engine, name) is not None for name in names)


def _taken_off(visit: Visit, units: UnitSystem) -> Iterator[Figure]:
    """Depth removed from the head's face, where its thickness was measured before and after."""
    removed = _removed(visit)
    if removed is None:
        return
    before, after = (_measured(visit, "head thickness", when)[-1].value for when in When)
    working = gettext(
        "head thickness {before} before the work − {after} after it", before=before, after=after
    )
    yield Figure(gettext("Taken off the head's face"), units.text(removed, "length"), working)


def _removed(visit: Visit) -> float | None:
    before, after = (_measured(visit, "head thickness", when) for when in When)
    return before[-1].value.si - after[-1].value.si if before and after else None


def _compression(db: Session, visit: Visit, engine: EngineSetUp) -> list[Figure]:
    """The ratio with the chambers as they are now or, where only the old ones are known, cut."""
    after = _measured(visit, "chamber volume", When.AFTER)
    chambers = after or _measured(visit, "chamber volume", When.BEFORE)
    doubts = doubtful.of_visit(db, visit)
    in_doubt = [f"{row.where}: {doubts[row]}" for row in chambers if row in doubts]
    if in_doubt:
        return [Figure(gettext("Compression ratio"), str(MISSING), " ".join(in_doubt))]
    inputs: dict[str, Any] = {
        "bore": (gettext("the engine type's bore"), visit.head.engine_type.bore),
        "stroke": (gettext("the engine type's stroke"), visit.head.engine_type.stroke),
        "chamber": (gettext("a measured chamber volume"), _mean(chambers)),
        "gasket_bore": (gettext("gasket bore"), engine.gasket_bore),
        "gasket_thickness": (gettext("gasket thickness"), engine.gasket_thickness),
        "deck": (gettext("deck clearance"), engine.deck_clearance),
        "dish": (gettext("piston dish"), engine.piston_dish),
    }
    if chambers and not after:
        # The old chambers stand for the new ones only once the cut is taken off.
        removed = _removed(visit)
        cut = None if removed is None else Quantity(f"{removed * 1e3:.4f} mm", removed)
        inputs["removed"] = (gettext("head thickness before and after the work"), cut)
        inputs["footprint"] = (gettext("the chamber's footprint"), engine.chamber_footprint)
    figures = _worked_out(
        gettext("Compression ratio"), engine_calculations.compression_ratio, inputs
    )
    return figures if figures[0].value == MISSING else [_chamber(chambers), *figures]


def _chamber(chambers: Sequence[Measurement]) -> Figure:
    """The chamber volume taken, and from how many chambers."""
    count = len(chambers)
    when = chambers[0].when
    values = sorted(chambers, key=lambda row: row.value.si)
    ends = {"count": count, "low": values[0].value, "high": values[-1].value}
    if count == 1:
        working = (
            gettext("measured before the work, {place}", place=chambers[0].where)
            if when is When.BEFORE
            else gettext("measured after the work, {place}", place=chambers[0].where)
        )
    elif when is When.BEFORE:
        working = gettext(
            "mean of {count} chambers measured before the work, {low} to {high}", **ends
        )
    else:
        working = gettext(
            "mean of {count} chambers measured after the work, {low} to {high}", **ends
        )
    mean = _mean(chambers)
    return Figure(
        gettext("Chamber volume"), pretty_text(mean.text if mean else ""), pretty_text(working)
    )


def _gas_volumes(note: HandOffNote, engine: EngineSetUp) -> list[Figure]:
    inputs = {
        "air_pressure": (gettext("air pressure where the engine runs"), engine.air_pressure),
        "boost": (gettext("boost on the intake valve"), _pressure(note, "intake")),
        "back_pressure": (
            gettext("back pressure on the exhaust valve"),
            _pressure(note, "exhaust"),
        ),
        "intake_temperature": (gettext("intake temperature"), engine.intake_temperature),
        "exhaust_temperature": (gettext("exhaust temperature"), engine.exhaust_temperature),
        "fuel_to_air": (gettext("fuel to air"), engine.fuel_to_air),
    }
    return _worked_out(
        gettext("Exhaust volume over intake volume"), engine_calculations.gas_volumes, inputs
    )


def _turbine(note: HandOffNote, engine: EngineSetUp) -> list[Figure]:
    """Of an ideal turbine: nobody has entered how good the real one is."""
    inputs = {
        "air_pressure": (gettext("air pressure where the engine runs"), engine.air_pressure),
        "mass_flow": (gettext("exhaust gas flow"), engine.gas_flow),
        "temperature": (gettext("exhaust temperature"), engine.exhaust_temperature),
        "inlet_pressure": (
            gettext("back pressure on the exhaust valve"),
            _pressure(note, "exhaust"),
        ),
        "outlet_pressure": (gettext("pressure after the turbine"), engine.turbine_outlet_pressure),
    }
    return _worked_out(gettext("Isentropic power"), engine_calculations.isentropic_power, inputs)


def _worked_out(
    name: str,
    work: Callable[[Mapping[str, Any]], list[Figure]],
    inputs: Mapping[str, tuple[str, Any]],
) -> list[Figure]:
    """A calculation's results, or one that names the missing inputs or the error."""
    lacking = [words for words, value in inputs.values() if value is None]
    if lacking:
        return [
            Figure(name, str(MISSING), gettext("missing: {lacking}", lacking=", ".join(lacking)))
        ]
    try:
        return work({key: value for key, (_, value) in inputs.items()})
    except ValidationError as error:
        return [Figure(name, str(MISSING), "; ".join(fault.message for fault in error.faults))]


def _measured(visit: Visit, code: str, when: When) -> list[Measurement]:
    """The figures of a kind, the last taken last; of one place measured again only the last."""
    rows = [row for row in visit.measurements if row.kind.code == code and row.when is when]
    latest = {row.where: row for row in sorted(rows, key=lambda row: (row.at, row.id))}
    return list(latest.values())


def _mean(rows: Sequence[Measurement]) -> Quantity | None:
    """The mean of measured volumes in the unit of the first; a single one exactly as typed."""
    if len(rows) < 2:
        return rows[0].value if rows else None
    unit = rows[0].value.unit
    mean = sum(row.value.si for row in rows) / len(rows)
    text = f"{from_si(mean, unit):.2f} {unit}"
    return Quantity(text, to_si(float(text.split()[0]), unit))


def _pressure(note: HandOffNote, side: str) -> Quantity | None:
    pressures = [valve.port_pressure for valve in note.valves if valve.side == side]
    return pressures[0] if pressures else None
