"""Set-up figures of valves and springs for the assembler, each with how it was come by."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc.springs import coil_bind_room, load_at_lift, pressure_force, retainer_room
from shopflow.models import ValveSetUp
from shopflow.papers.data import Figure
from shopflow.units import Quantity, UnitSystem, pretty_text

ENTERED = "as entered by the shop"
NAMES = {
    "base_seat_load": "base seat load",
    "valve_head_diameter": "valve head diameter",
    "port_pressure": "pressure on the valve head",
    "spring_rate": "spring rate",
    "installed_height": "installed height",
    "coil_bind_height": "coil bind height",
    "valve_lift": "valve lift",
    "retainer_to_guide": "retainer to guide clearance",
}


def valve_figures(valve: ValveSetUp, units: UnitSystem) -> tuple[Figure, ...]:
    """One side's set-up figures; what was not entered is said at the end, never assumed."""
    return (
        *_to_set(valve, units),
        *_spring(valve, units),
        *_under_pressure(valve, units),
        *_at_lift(valve, units),
        *_rooms(valve, units),
        *_not_worked_out(valve),
    )


def _to_set(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """Base load, what is added to it, and the sum."""
    if valve.base_seat_load is None:
        return
    yield Figure("Base seat load", valve.base_seat_load.text, ENTERED)
    parts = [valve.base_seat_load.text]
    force = _force(valve)
    if force and valve.port_pressure:
        working = (
            f"{pretty_text(valve.port_pressure.text)} on the whole face of a "
            f"{valve.valve_head_diameter} valve head, stem not taken off"
        )
        yield Figure(f"Added for {_pressure(valve)}", units.text(force, "force"), working)
        parts.append(units.text(force, "force"))
    if valve.seat_angle_allowance and valve.seat_angle_allowance.si:
        working = (
            "the porter's allowance for a shallower seat (about 10 lbf more at 39 than at 45 "
            "degrees); common practice, no source"
        )
        yield Figure("Added for seat angle", valve.seat_angle_allowance.text, working)
        parts.append(valve.seat_angle_allowance.text)
    total = units.text(_load_to_set(valve), "force")
    yield Figure("Seat load to set", total, " + ".join(parts), decisive=True)


def _spring(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """The spring as it was found, against the load to set."""
    if valve.installed_load:
        working, wanted = ENTERED, _load_to_set(valve)
        if wanted is not None:
            spare = valve.installed_load.si - wanted
            amount = units.text(abs(spare), "force")
            short = f"{amount} SHORT OF THE SEAT LOAD TO SET"
            working += f"; {short if spare < 0 else f'{amount} above the seat load to set'}"
        yield Figure("Spring load at installed height", valve.installed_load.text, working)
    yield from _entered("Spring rate", valve.spring_rate)
    yield from _entered("Installed height", valve.installed_height)
    yield from _entered("Coil bind height", valve.coil_bind_height)


def _under_pressure(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """What holds the valve shut while the pressure pushes at it."""
    force, load = _force(valve), _spring_load(valve)
    if not force or load is None:
        return
    working = (
        f"{_load_name(valve)} {units.text(load, 'force')} − {units.text(force, 'force')} of "
        f"{_pressure(valve)}, in still gas, the cylinder at outside pressure"
    )
    if load <= force:
        working += "; THE VALVE IS PUSHED OPEN"
    name = f"Left on the seat under {_pressure(valve)}"
    yield Figure(name, units.text(load - force, "force"), working)


def _at_lift(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    load = _spring_load(valve)
    if load is not None and valve.spring_rate and valve.valve_lift:
        full = float(load_at_lift(load, valve.spring_rate.si, valve.valve_lift.si))
        working = (
            f"{_load_name(valve)} + {pretty_text(valve.spring_rate.text)} × {valve.valve_lift} of "
            "valve lift; a rate that rises with lift gives more"
        )
        yield Figure("Load at full lift", units.text(full, "force"), working)


def _rooms(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """Room to coil bind, and from retainer to guide."""
    lift = valve.valve_lift
    if valve.installed_height and valve.coil_bind_height and lift:
        heights = (valve.installed_height.si, valve.coil_bind_height.si)
        room = float(coil_bind_room(*heights, lift.si))
        working = "installed height − coil bind height − valve lift"
        if room < 0:
            working += "; THE SPRING BINDS"
        yield Figure("Room to coil bind", units.text(room, "lift"), working)
    clearance = valve.retainer_to_guide
    yield from _entered("Retainer to guide, valve shut", clearance)
    if clearance and lift:
        room = float(retainer_room(clearance.si, lift.si))
        working = f"{clearance} with the valve shut − {lift} of valve lift"
        if room <= 0:
            working += "; THE RETAINER STRIKES THE GUIDE"
        yield Figure("Retainer to guide at full lift", units.text(room, "lift"), working)


def _not_worked_out(valve: ValveSetUp) -> Iterator[Figure]:
    """What a side lacks, by the figure that needs it."""
    load = () if valve.installed_load else ("base_seat_load",)
    pressure = ("valve_head_diameter", "port_pressure")
    needs = {
        "Seat load to set": ("base_seat_load", *pressure),
        "Load at full lift": (*load, "spring_rate", "valve_lift"),
        "Room to coil bind": ("installed_height", "coil_bind_height", "valve_lift"),
        "Retainer to guide at full lift": ("retainer_to_guide", "valve_lift"),
    }
    lacking = {
        name: [NAMES[field] for field in fields if getattr(valve, field) is None]
        for name, fields in needs.items()
    }
    said = [f"{name}: {', '.join(fields)}" for name, fields in lacking.items() if fields]
    if said:
        yield Figure("Not entered", "missing", "; ".join(said))


def _entered(name: str, value: Quantity | None) -> Iterator[Figure]:
    if value is not None:
        yield Figure(name, pretty_text(value.text), ENTERED)


def _pressure(valve: ValveSetUp) -> str:
    return "boost" if valve.side == "intake" else "back pressure"


def _force(valve: ValveSetUp) -> float:
    """Of the pressure on the whole face of the valve head, N; nothing where it is not known."""
    if valve.port_pressure is None or valve.valve_head_diameter is None:
        return 0.0
    return float(pressure_force(valve.port_pressure.si, valve.valve_head_diameter.si))


def _load_to_set(valve: ValveSetUp) -> float | None:
    """What the spring must hold on the seat, N."""
    if valve.base_seat_load is None:
        return None
    allowance = valve.seat_angle_allowance.si if valve.seat_angle_allowance else 0.0
    return valve.base_seat_load.si + _force(valve) + allowance


def _spring_load(valve: ValveSetUp) -> float | None:
    """What the spring gives on the seat: as found or, where nobody measured it, as to be set."""
    return valve.installed_load.si if valve.installed_load else _load_to_set(valve)


def _load_name(valve: ValveSetUp) -> str:
    return "spring load" if valve.installed_load else "seat load to set"
