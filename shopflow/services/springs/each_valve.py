"""Springs valve by valve: height on its shims, loads, room, and what is outside its limits."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shopflow.calc.springs import coil_bind_room, retainer_room
from shopflow.models import EngineLimit, Measurement
from shopflow.models.measurement import limits_in_words
from shopflow.services.measuring.as_measured import in_system, restated
from shopflow.services.springs.inputs import HEIGHT, SHIM, Inputs
from shopflow.services.springs.shims import Shim, standing_height
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem, pretty_text, to_si


@dataclass(frozen=True)
class Value:
    """A value of one valve, SI, and the quantity whose unit it is shown in."""

    si: float
    first: Quantity | None
    typed: str = ""
    """As measured; empty for what was calculated."""

    def text(self, kind: str, units: UnitSystem) -> str:
        """The value in a system of units; one measured in another follows in brackets."""
        if self.typed:
            return restated(Quantity(self.typed, self.si), kind, units)
        return units.text(self.si, kind)


@dataclass
class ValveSpring:
    """One valve's spring; none where an input is missing."""

    label: str
    is_named: bool = True
    """False for what was measured at a place that names none of the head's valves."""

    height: Value | None = None
    """Of the spring as it stands, on the shims that are in."""

    shim: Shim | None = None
    """Shims to add."""

    in_now: Value | None = None
    """Thickness of the shims that are in."""

    fitted: Value | None = None
    """Height once the shims are added."""

    seat_load: Value | None = None
    held: Value | None = None
    """Of the seat load, once boost or back pressure pushes against it."""

    open_load: Value | None = None
    room: Value | None = None
    retainer: Value | None = None
    squareness: Value | None = None
    seat_beyond: bool = False
    open_beyond: bool = False
    """True where the load was read beyond the points entered."""

    faults: list[str] = field(default_factory=list)
    lacks: list[str] = field(default_factory=list)
    """Inputs without which nobody can say that it is within its limits, in words."""

    is_checked: bool = False
    """True where anything of it was held against a limit."""

    @property
    def verdict(self) -> str:
        """Faults and what is lacking in words or, without any, that it is within its limits."""
        if self.faults or self.lacks:
            return "; ".join((*self.faults, *self.lacks))
        return gettext("within limits") if self.is_checked else gettext("no limit given")


def of_side(inputs: Inputs, shims: Mapping[str, Shim], units: UnitSystem) -> list[ValveSpring]:
    """Every valve of a side, in the head's order."""
    rows = {code: inputs.measured(code) for code in (
        HEIGHT, SHIM, "seat load", "open load", "squareness", "coil bind height",
        "retainer to guide",
    )}  # fmt: skip
    valves = []
    for label, place in inputs.valves.items():
        measured = {code: by_valve[label] for code, by_valve in rows.items() if label in by_valve}
        is_named = place is not None or inputs.visit.head.plan is None
        valve = ValveSpring(label, is_named=is_named, shim=shims.get(label))
        _heights(valve, inputs, measured)
        _loads(valve, inputs, measured)
        _room(valve, inputs, measured)
        _check(valve, inputs, measured, units)
        if measured:
            valve.lacks = list(_lacks(valve, inputs))
        valves.append(valve)
    return valves


def _heights(valve: ValveSpring, inputs: Inputs, measured: Mapping[str, Measurement]) -> None:
    row, own = measured.get(HEIGHT), measured.get(SHIM)
    if own is not None:
        valve.in_now = _typed(own)
    if row is None:
        return
    standing = standing_height(row, own)
    is_as_measured = standing is row.value
    valve.height = Value(standing.si, row.value, standing.text if is_as_measured else "")
    valve.fitted = Value(standing.si, row.value)
    if valve.shim is not None and valve.shim.thickness:
        unit = valve.shim.wanted.unit
        typed = f"{valve.shim.fitted} {unit}"
        height = to_si(float(valve.shim.fitted), unit)
        valve.fitted = Value(height, Quantity(typed, height), typed)


def _loads(valve: ValveSpring, inputs: Inputs, measured: Mapping[str, Measurement]) -> None:
    """Loads measured at the valve, else read off the curve at its own height."""
    seat, opened = measured.get("seat load"), measured.get("open load")
    curve, lift, height = inputs.loads, inputs.lift, valve.fitted
    first = inputs.spring.points[0].load if inputs.spring and inputs.spring.points else None
    if seat is not None:
        valve.seat_load, first = _typed(seat), seat.value
    elif curve is not None and height is not None:
        valve.seat_load = Value(curve.load(height.si), first)
        valve.seat_beyond = not curve.covers(height.si)
    elif height is not None and (load := inputs.noted_load(height.si)) is not None:
        valve.seat_load = Value(load, inputs.note.installed_load if inputs.note else None)
    if opened is not None:
        valve.open_load = _typed(opened)
    elif valve.seat_load is not None and lift is not None:
        rise = _rise(valve, inputs, lift.si)
        if rise is not None:
            valve.open_load = Value(valve.seat_load.si + rise, valve.seat_load.first)
    if valve.seat_load is not None and (force := inputs.pressure.force):
        valve.held = Value(valve.seat_load.si - force, valve.seat_load.first)


def _rise(valve: ValveSpring, inputs: Inputs, lift: float) -> float | None:
    """Load a valve's spring gains on the way to full lift: along its curve, else by its rate."""
    curve, height = inputs.loads, valve.fitted
    if curve is not None and height is not None:
        valve.open_beyond = not (curve.covers(height.si - lift) and curve.covers(height.si))
        return curve.load(height.si - lift) - curve.load(height.si)
    return None if inputs.noted_rate is None else inputs.noted_rate * lift


def _room(valve: ValveSpring, inputs: Inputs, measured: Mapping[str, Measurement]) -> None:
    if inputs.lift is None:
        return
    lift = inputs.lift.si
    own = measured.get("coil bind height")
    bind = own.value if own is not None else inputs.coil_bind
    if valve.fitted is not None and bind is not None:
        room = float(coil_bind_room(valve.fitted.si, bind.si, lift))
        valve.room = Value(room, valve.fitted.first)
    row = measured.get("retainer to guide")
    shut = row.value if row is not None else None
    if shut is None and measured and inputs.note is not None:
        # The note's clearance is of the side: it tells nothing of a valve that was not measured.
        shut = inputs.note.retainer_to_guide
    if shut is not None:
        valve.retainer = Value(float(retainer_room(shut.si, lift)), shut)


def _check(
    valve: ValveSpring, inputs: Inputs, measured: Mapping[str, Measurement], units: UnitSystem
) -> None:
    """Hold each value against its limit, and say what is outside."""
    square = measured.get("squareness")
    valve.squareness = _typed(square) if square is not None else None
    checks = (
        *_against(gettext("seat load"), valve.seat_load, "force", "seat load", inputs, measured,
                  units),
        *_short_of_load(valve, inputs, units),
        *_pushed_open(valve, units),
        *_against(gettext("load at full lift"), valve.open_load, "force", "open load", inputs,
                  measured, units),
        *_against(gettext("squareness"), valve.squareness, "lift", "squareness", inputs, measured,
                  units),
        *_roomy(valve, inputs, units),
        *_stands(valve, inputs, measured, units),
    )  # fmt: skip
    valve.is_checked = bool(checks)
    valve.faults = [fault for fault in checks if fault]


def _against(
    name: str,
    value: Value | None,
    kind: str,
    code: str,
    inputs: Inputs,
    measured: Mapping[str, Measurement],
    units: UnitSystem,
) -> Iterator[str]:
    """A fault, or nothing to say, where a value has limits; those copied to a row go first."""
    row = measured.get(code)
    limit: Measurement | EngineLimit | None = inputs.limits.get(code)
    if row is not None and (row.lower or row.upper):
        limit = row
    if value is None or limit is None:
        return
    low = limit.lower is None or _reaches(value.si, limit.lower.si)
    high = limit.upper is None or _reaches(limit.upper.si, value.si)
    if low and high:
        yield ""
        return
    yield gettext(
        "{name} {value}, limits {limits}",
        name=name,
        value=value.text(kind, units),
        limits=pretty_text(
            limits_in_words(
                *(
                    in_system(bound, kind, units) if bound is not None else None
                    for bound in (limit.lower, limit.upper)
                )
            )
        ),
    )


def _short_of_load(valve: ValveSpring, inputs: Inputs, units: UnitSystem) -> Iterator[str]:
    """A fault where the seat load is less than the hand-off note asks for."""
    load, wanted = valve.seat_load, inputs.load_to_set
    if load is None or wanted is None:
        return
    if _reaches(load.si, wanted):
        yield ""
        return
    yield gettext(
        "seat load {value}, {amount} short of the load to set",
        value=load.text("force", units),
        amount=units.text(wanted - load.si, "force"),
    )


def _pushed_open(valve: ValveSpring, units: UnitSystem) -> Iterator[str]:
    if valve.held is not None:
        yield "" if valve.held.si > 0.0 else gettext("the pressure pushes the valve open")


def _roomy(valve: ValveSpring, inputs: Inputs, units: UnitSystem) -> Iterator[str]:
    """Faults of room to coil bind and at the retainer."""
    spring = inputs.spring
    room, retainer = valve.room, valve.retainer
    if room is not None:
        if room.si < 0.0:
            yield gettext("the spring binds")
        else:
            least = spring.least_bind_room if spring else None
            yield _short(gettext("room to coil bind"), room, least, units)
    if retainer is not None:
        if retainer.si <= 0.0:
            yield gettext("the retainer strikes the guide")
        else:
            least = spring.least_retainer_room if spring else None
            yield _short(gettext("retainer to guide"), retainer, least, units)


def _short(name: str, room: Value, least: Quantity | None, units: UnitSystem) -> str:
    if least is None or _reaches(room.si, least.si):
        return ""
    return gettext(
        "{name} {room}, wanted {least}",
        name=name,
        room=room.text("lift", units),
        least=pretty_text(in_system(least, "lift", units).text),
    )


def _stands(
    valve: ValveSpring, inputs: Inputs, measured: Mapping[str, Measurement], units: UnitSystem
) -> Iterator[str]:
    """A fault of the height on its shims; by its limits or, without any, where it is too low."""
    checks = list(
        _against(gettext("height"), valve.fitted, "lift", HEIGHT, inputs, measured, units)
    )
    yield from checks
    if not checks and valve.shim is not None and valve.shim.is_low:
        yield valve.shim.words


def _lacks(valve: ValveSpring, inputs: Inputs) -> Iterator[str]:
    """Inputs a valve lacks: its height, and the pressure that its load does not allow for."""
    if valve.height is None:
        yield gettext("height not measured")
    if inputs.pressure.fault:
        yield inputs.pressure.fault


def _typed(row: Measurement) -> Value:
    return Value(row.value.si, row.value, row.value.text)


def _reaches(value: float, bound: float) -> bool:
    """True where a value is at least a bound, within rounding."""
    return value >= bound or math.isclose(value, bound, rel_tol=1e-9)
