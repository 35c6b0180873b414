"""Set-up figures for the assembler, each with how it was come by."""

from __future__ import annotations

from shopflow.calc.springs import coil_bind_room, load_at_lift, pressure_force
from shopflow.models import ValveSetUp
from shopflow.papers import data
from shopflow.units import UnitSystem, pretty_text


def valve_figures(valve: ValveSetUp, units: UnitSystem) -> tuple[data.Figure, ...]:
    """One side's set-up figures, each with how it was come by."""
    figures: list[data.Figure] = []

    def typed(name: str, value: object, working: str = "as entered by the shop") -> None:
        if value is not None:
            figures.append(data.Figure(name, pretty_text(str(value)), working))

    load = _seat_load(valve, units, figures)
    typed("Spring rate", valve.spring_rate)
    typed("Installed height", valve.installed_height)
    typed("Coil bind height", valve.coil_bind_height)
    if load is not None and valve.spring_rate and valve.valve_lift:
        full = float(load_at_lift(load, valve.spring_rate.si, valve.valve_lift.si))
        working = (
            f"seat load + {pretty_text(valve.spring_rate.text)} × {valve.valve_lift} of valve lift"
        )
        figures.append(data.Figure("Load at full lift", units.text(full, "force"), working))
    if valve.installed_height and valve.coil_bind_height and valve.valve_lift:
        heights = (valve.installed_height.si, valve.coil_bind_height.si)
        room = float(coil_bind_room(*heights, valve.valve_lift.si))
        working = "installed height − coil bind height − valve lift"
        if room < 0:
            working += "; THE SPRING BINDS"
        figures.append(data.Figure("Room to coil bind", units.text(room, "lift"), working))
    return tuple(figures)


def _seat_load(valve: ValveSetUp, units: UnitSystem, figures: list[data.Figure]) -> float | None:
    """Base load, what is added to it, and the sum, as figures; the sum in N."""
    if valve.base_seat_load is None:
        return None
    total = valve.base_seat_load.si
    parts = [valve.base_seat_load.text]
    figures.append(
        data.Figure("Base seat load", valve.base_seat_load.text, "as entered by the shop")
    )
    if valve.port_pressure and valve.port_pressure.si and valve.valve_head_diameter:
        force = float(pressure_force(valve.port_pressure.si, valve.valve_head_diameter.si))
        working = (
            f"{pretty_text(valve.port_pressure.text)} on the whole face of a "
            f"{valve.valve_head_diameter} valve head, stem not taken off"
        )
        name = "Added for boost" if valve.side == "intake" else "Added for back pressure"
        figures.append(data.Figure(name, units.text(force, "force"), working))
        parts.append(units.text(force, "force"))
        total += force
    if valve.seat_angle_allowance and valve.seat_angle_allowance.si:
        working = "the porter's allowance for a shallower seat; common practice, no source"
        text = valve.seat_angle_allowance.text
        figures.append(data.Figure("Added for seat angle", text, working))
        parts.append(text)
        total += valve.seat_angle_allowance.si
    to_set = units.text(total, "force")
    figures.append(data.Figure("Seat load to set", to_set, " + ".join(parts), decisive=True))
    return total
