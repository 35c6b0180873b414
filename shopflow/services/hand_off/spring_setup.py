"""Set-up figures of valves and springs for the assembler, each with its working."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc.springs import load_at_lift, retainer_room, seat_load_factor
from shopflow.documents import Figure, SpringSide, ValveFigures
from shopflow.models import ValveSetUp
from shopflow.services.hand_off import installed_heights
from shopflow.services.hand_off.installed_heights import ValveHeight
from shopflow.services.measuring.as_measured import as_typed, stated
from shopflow.services.springs import seat_loads
from shopflow.services.springs.seat_loads import NAMES, load_to_set
from shopflow.texts import gettext, lazy
from shopflow.units import POUND_FORCE, Quantity, UnitSystem, pretty_text

ENTERED = lazy("as entered by the shop")
COMMON_PRACTICE = Quantity("10 lbf", 10 * POUND_FORCE)
"""Added for a seat of 39 degrees; common practice, no source."""


def side_figures(
    valve: ValveSetUp, units: UnitSystem, springs: SpringSide | None = None
) -> ValveFigures:
    """One side's set-up figures, but for those its springs state valve by valve."""
    there = _stated_by(springs) if springs is not None else frozenset()
    return ValveFigures(valve.side, valve_figures(valve, units, there), tuple(sorted(there)))


def _stated_by(springs: SpringSide) -> frozenset[str]:
    """Names of the figures that a side's springs give, from more particular records."""
    of_each = {
        gettext("Least seat load measured"): any(row.seat_load for row in springs.each),
        gettext("Load at full lift"): any(row.load_at_lift for row in springs.each),
        gettext("Lowest installed height"): any(row.fitted_height for row in springs.each),
        gettext("Room to coil bind"): any(row.room_to_coil_bind for row in springs.each),
        gettext("Left on the seat under boost"): any(row.held for row in springs.each),
        gettext("Left on the seat under back pressure"): any(row.held for row in springs.each),
    }
    # Springs on record are printed with their own figures, where a note's are of the side alone.
    of_side = {figure.name for figure in springs.figures} if springs.curve else set()
    return frozenset({name for name, is_there in of_each.items() if is_there} | of_side)


def valve_figures(
    valve: ValveSetUp, units: UnitSystem, elsewhere: frozenset[str] = frozenset()
) -> tuple[Figure, ...]:
    """One side's set-up figures; what was not entered is said at the end, never assumed.

    Names stated `elsewhere` are left out.
    """
    measured = installed_heights.each_valve(valve)
    figures = (
        *_to_set(valve, units),
        *_spring(valve, measured, units),
        *_under_pressure(valve, units),
        *_at_lift(valve, units),
        *_coil_bind(valve, measured, units),
        *_retainer(valve, units),
        *_not_entered(valve, measured, elsewhere),
    )
    return tuple(
        figure for figure in figures if not any(figure.name.startswith(name) for name in elsewhere)
    )


def _to_set(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """Base load, what is added to it, and the sum in the unit of the base load."""
    base = valve.base_seat_load
    if base is None:
        return
    yield Figure(gettext("Base seat load"), base.text, str(ENTERED))
    parts = [base.text]
    force, pressure, diameter = (
        seat_loads.force(valve), valve.port_pressure, valve.valve_head_diameter
    )  # fmt: skip
    if force and pressure and diameter:
        working = gettext(
            "{pressure} on the whole face of a {diameter} valve head, stem not taken off",
            pressure=pretty_text(pressure.text),
            diameter=as_typed(diameter, pressure, units),
        )
        added = stated(force, "force", pressure, units)
        name = (
            gettext("Added for boost")
            if valve.side == "intake"
            else gettext("Added for back pressure")
        )
        yield Figure(name, added, working)
        parts.append(stated(force, "force", base, units))
    yield from _for_seat_angle(valve, units)
    if allowance := seat_loads.allowance(valve):
        own = valve.seat_angle_allowance
        added = as_typed(own, base, units) if own else stated(allowance, "force", base, units)
        parts.append(added)
    total = load_to_set(valve)
    if total is not None:
        text = stated(total, "force", base, units)
        yield Figure(gettext("Seat load to set"), text, " + ".join(parts), decisive=True)


def _for_seat_angle(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """Allowance for a shallower seat, and its origin: derived, or the porter's own."""
    name = gettext("Added for seat angle")
    shallow = seat_loads.shallow_seat(valve.note.job_head, valve)
    own, angle, base = valve.seat_angle_allowance, valve.seat_angle, valve.base_seat_load
    if valve.allowance_derived and angle and base:
        added = stated(seat_loads.allowance(valve), "force", base, units)
        factor = float(seat_load_factor(angle.si))
        working = (
            gettext("derived: none for a seat of {angle}, not shallower than 45 deg", angle=angle)
            if factor < 1.0
            else gettext(
                "derived: {base} × (cos {angle} ÷ cos 45 deg − 1), without friction",
                base=base,
                angle=angle,
            )
        )
        yield Figure(name, added, pretty_text(working))
    elif own and (own.si or shallow):
        usual = as_typed(COMMON_PRACTICE, own, units)
        working = gettext(
            "the porter's own, not derived; common practice (no source) adds about "
            "{usual} at 39 degrees against 45",
            usual=usual,
        )
        yield Figure(name, own.text, working)
    elif shallow:
        yield Figure(
            name,
            gettext("not entered"),
            pretty_text(gettext("the seat is recorded at {angle}", angle=shallow)),
        )


def _spring(valve: ValveSetUp, measured: list[ValveHeight], units: UnitSystem) -> Iterator[Figure]:
    """The spring as it was measured, against the load to set."""
    wanted = load_to_set(valve)
    if load := valve.installed_load:
        working = _with_spare(str(ENTERED), load, wanted, units)
        yield Figure(gettext("Spring load at installed height"), load.text, working)
    weakest = installed_heights.weakest(measured)
    if weakest is not None and weakest.load and len(measured) > 1:
        working = _with_spare(weakest.where, weakest.load, wanted, units)
        yield Figure(gettext("Least seat load measured"), weakest.load.text, working)
    yield from _entered(gettext("Spring rate"), valve.spring_rate)
    yield from _entered(gettext("Installed height"), valve.installed_height)
    yield from _entered(gettext("Coil bind height"), valve.coil_bind_height)


def _with_spare(source: str, load: Quantity, wanted: float | None, units: UnitSystem) -> str:
    """The source of a load, and its difference from the load to set."""
    if wanted is None:
        return source
    amount = stated(abs(load.si - wanted), "force", load, units)
    if load.si < wanted:
        return gettext(
            "{source}; {amount} SHORT OF THE SEAT LOAD TO SET", source=source, amount=amount
        )
    return gettext("{source}; {amount} above the seat load to set", source=source, amount=amount)


def _under_pressure(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    """Force that holds the valve shut against the gas pressure."""
    force, load = seat_loads.force(valve), _spring_load(valve)
    if not force or load is None:
        return
    first = _first_load(valve)
    numbers = {
        "name": _load_name(valve),
        "load": stated(load, "force", first, units),
        "force": stated(force, "force", first, units),
    }
    if valve.side == "intake":
        name = gettext("Left on the seat under boost")
        working = gettext(
            "{name} {load} − {force} of boost, in still gas, the cylinder at outside pressure",
            **numbers,
        )
    else:
        name = gettext("Left on the seat under back pressure")
        working = gettext(
            "{name} {load} − {force} of back pressure, in still gas, the cylinder at outside "
            "pressure",
            **numbers,
        )
    if load <= force:
        working = gettext("{working}; THE VALVE IS PUSHED OPEN", working=working)
    yield Figure(name, stated(load - force, "force", first, units), working)


def _at_lift(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    load, rate, lift = _spring_load(valve), valve.spring_rate, valve.valve_lift
    if load is not None and rate and lift:
        first = _first_load(valve)
        full = float(load_at_lift(load, rate.si, lift.si))
        working = gettext(
            "{valve} + {rate} × {lift} of valve lift; a rate that rises with lift gives more",
            valve=_load_name(valve),
            rate=as_typed(rate, first, units),
            lift=as_typed(lift, first, units),
        )
        yield Figure(gettext("Load at full lift"), stated(full, "force", first, units), working)


def _coil_bind(
    valve: ValveSetUp, measured: list[ValveHeight], units: UnitSystem
) -> Iterator[Figure]:
    """The least room to coil bind: at the valve measured lowest, or as set up."""
    lowest = installed_heights.lowest(measured)
    height = lowest.height if lowest else valve.installed_height
    room = installed_heights.room(valve, height)
    bind, lift = valve.coil_bind_height, valve.valve_lift
    if lowest is not None and height is not None:
        count = sum(row.height is not None for row in measured)
        of = lowest.where
        if count > 1:
            of = gettext("{place}, the lowest of {count} measured", place=lowest.where, count=count)
        yield Figure(gettext("Lowest installed height"), pretty_text(height.text), of)
    if room is None or height is None or bind is None or lift is None:
        return
    working = gettext(
        "{height} installed − {bind} coil bind − {lift} of valve lift",
        height=pretty_text(height.text),
        bind=as_typed(bind, height, units),
        lift=as_typed(lift, height, units),
    )
    if lowest is not None:
        working = gettext("the least, at {place}: {working}", place=lowest.where, working=working)
    if room < 0:
        working = gettext("{working}; THE SPRING BINDS", working=working)
    yield Figure(gettext("Room to coil bind"), stated(room, "lift", height, units), working)


def _retainer(valve: ValveSetUp, units: UnitSystem) -> Iterator[Figure]:
    clearance, lift = valve.retainer_to_guide, valve.valve_lift
    yield from _entered(gettext("Retainer to guide, valve closed"), clearance)
    if clearance and lift:
        room = float(retainer_room(clearance.si, lift.si))
        shut = pretty_text(clearance.text)
        working = gettext(
            "{clearance} with the valve shut − {lift} of valve lift",
            clearance=shut,
            lift=as_typed(lift, clearance, units),
        )
        if room <= 0:
            working = gettext("{working}; THE RETAINER STRIKES THE GUIDE", working=working)
        text = stated(room, "lift", clearance, units)
        yield Figure(gettext("Retainer to guide at full lift"), text, working)


def _not_entered(
    valve: ValveSetUp, measured: list[ValveHeight], elsewhere: frozenset[str]
) -> Iterator[Figure]:
    """Missing inputs of a side, by the result that needs them."""
    load = () if valve.installed_load else ("base_seat_load",)
    height = () if installed_heights.lowest(measured) else ("installed_height",)
    needs = {
        gettext("Load at full lift"): (*load, "spring_rate", "valve_lift"),
        gettext("Room to coil bind"): (*height, "coil_bind_height", "valve_lift"),
        gettext("Retainer to guide at full lift"): ("retainer_to_guide", "valve_lift"),
    }
    missing = {gettext("Seat load to set"): seat_loads.lacking(valve)} | {
        name: [field for field in fields if getattr(valve, field) is None]
        for name, fields in needs.items()
    }
    lines = [
        f"{name}: {', '.join(str(NAMES[field]) for field in fields)}"
        for name, fields in missing.items()
        if fields and name not in elsewhere
    ]
    if seat_loads.lacks_allowance(valve):
        lines.insert(0, gettext("Seat load to set: allowance for the shallow seat"))
    if lines:
        yield Figure(gettext("Not entered"), gettext("missing"), "; ".join(lines))


def _entered(name: str, value: Quantity | None) -> Iterator[Figure]:
    if value is not None:
        yield Figure(name, pretty_text(value.text), str(ENTERED))


def _spring_load(valve: ValveSetUp) -> float | None:
    """Spring load on the seat: as measured or, without a measurement, as to be set."""
    return valve.installed_load.si if valve.installed_load else load_to_set(valve)


def _first_load(valve: ValveSetUp) -> Quantity | None:
    return valve.installed_load or valve.base_seat_load


def _load_name(valve: ValveSetUp) -> str:
    return gettext("spring load") if valve.installed_load else gettext("seat load to set")
