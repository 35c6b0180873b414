"""Seat loads of a hand-off note: the base load, what is added to it, and what is still lacking."""

from __future__ import annotations

from collections.abc import Iterator
from math import radians

from shopflow.calc.springs import pressure_force, seat_load_factor
from shopflow.models import HandOffNote, Induction, ValveSetUp, Visit, When
from shopflow.texts import gettext, lazy, translated
from shopflow.units import Quantity

SIDES = ("intake", "exhaust")
SHALLOW = radians(44.5)
"""A seat below it is cut shallower than the usual 45 degrees; half a degree is how it is cut."""


NAMES = {
    "base_seat_load": lazy("base seat load"),
    "valve_head_diameter": lazy("valve head diameter"),
    "port_pressure": lazy("pressure on the valve head"),
    "seat_angle": lazy("seat angle"),
    "spring_rate": lazy("spring rate"),
    "installed_height": lazy("installed height"),
    "coil_bind_height": lazy("coil bind height"),
    "valve_lift": lazy("valve lift"),
    "retainer_to_guide": lazy("retainer to guide clearance"),
}
"""Names of a set-up's inputs within a sentence."""


def force(valve: ValveSetUp) -> float:
    """Of the pressure on the whole face of the valve head, N; nothing where it is not known."""
    if valve.port_pressure is None or valve.valve_head_diameter is None:
        return 0.0
    return float(pressure_force(valve.port_pressure.si, valve.valve_head_diameter.si))


def allowance(valve: ValveSetUp) -> float:
    """Allowance for a shallow seat, N: derived from its angle, or as the porter entered it."""
    if not valve.allowance_derived:
        return valve.seat_angle_allowance.si if valve.seat_angle_allowance else 0.0
    if valve.seat_angle is None or valve.base_seat_load is None:
        return 0.0
    more = float(seat_load_factor(valve.seat_angle.si)) - 1.0
    return max(0.0, valve.base_seat_load.si * more)


def load_to_set(valve: ValveSetUp) -> float | None:
    """Load the spring must hold on the seat, N; None where an input is missing."""
    if valve.base_seat_load is None or lacking(valve) or lacks_allowance(valve):
        return None
    return valve.base_seat_load.si + force(valve) + allowance(valve)


def seat_on_file(visit: Visit, side: str) -> Quantity | None:
    """The shallowest seat of a side as it now is: as last measured, else as last tested."""
    angles: dict[str, Quantity] = {}
    for row in sorted(visit.measurements, key=lambda row: (row.at, row.id)):
        if row.kind.code == "seat angle" and row.side in (side, "") and row.when is When.AFTER:
            angles[row.where] = row.value
    if angles:
        return min(angles.values(), key=lambda value: value.si)
    tested = [row.seat_angle for row in visit.sessions if row.side == side]
    return next((angle for angle in reversed(tested) if angle is not None), None)


def lacking(valve: ValveSetUp) -> list[str]:
    """The names of the inputs without which a side's seat load is not known."""
    names = ["base_seat_load"]
    job = valve.note.job_head.job
    charged = job.is_boosted if valve.side == "intake" else job.induction is Induction.TURBOCHARGED
    if charged or valve.port_pressure is not None:
        names += ["valve_head_diameter", "port_pressure"]
    if valve.allowance_derived:
        names.append("seat_angle")
    return [name for name in names if getattr(valve, name) is None]


def unsigned_because(note: HandOffNote) -> Iterator[str]:
    """Reasons why a note cannot be signed yet."""
    sides = {valve.side: valve for valve in note.valves}
    for side in SIDES:
        valve = sides.get(side) or ValveSetUp(side=side, allowance_derived=False)
        if side in sides and (missing := lacking(valve)):
            called = ", ".join(str(NAMES[name]) for name in missing)
            yield gettext(
                "the {side} seat load lacks: {inputs}", side=translated(side), inputs=called
            )
        seat = shallow_seat(note.job_head, valve)
        if seat is not None and _is_blank(valve):
            yield gettext(
                "the {side} seat is recorded at {angle}, shallower than 45 deg, and its allowance "
                "is blank: enter it (0 for none), or derive it from the seat angle",
                side=translated(side),
                angle=seat,
            )


def shallow_seat(visit: Visit, valve: ValveSetUp) -> Quantity | None:
    """A side's seat that is cut below 45 degrees, by the note or by the head's file."""
    angles = (valve.seat_angle, seat_on_file(visit, valve.side))
    return next((angle for angle in angles if angle and angle.si < SHALLOW), None)


def lacks_allowance(valve: ValveSetUp) -> bool:
    """True where a shallow seat is recorded without its allowance."""
    return _is_blank(valve) and shallow_seat(valve.note.job_head, valve) is not None


def _is_blank(valve: ValveSetUp) -> bool:
    return not valve.allowance_derived and valve.seat_angle_allowance is None
