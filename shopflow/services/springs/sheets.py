"""A head's springs for page and paper: each side with its valves, the worst ones named."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.calc.springs import coil_bind_room
from shopflow.documents import EachValve, Figure, SpringCurve, SpringList, SpringSide
from shopflow.models import Visit, When
from shopflow.models.places import SIDES
from shopflow.services.measuring.as_measured import restated
from shopflow.services.paperwork import facts
from shopflow.services.shop.settings import shop_or_none
from shopflow.services.springs import each_valve, inputs, shims
from shopflow.services.springs.each_valve import Value, ValveSpring
from shopflow.services.springs.inputs import HEIGHT, SHIM, Inputs
from shopflow.services.springs.shims import Shim
from shopflow.texts import gettext, spoken
from shopflow.units import UnitSystem, pretty_text

Pick = Callable[[ValveSpring], Value | None]
MOST_NAMED = 3
ALIKE = 0.06
"""Share by which two lifts may differ: lash is taken off one of them."""


def spring_list(db: Session, visit: Visit, at: datetime) -> SpringList:
    """A head's spring and shim list."""
    display = facts.display(db, visit.job.customer)
    with spoken(display.language):
        return SpringList(
            shop=facts.letterhead(db),
            display=display,
            job=visit.job.number,
            customer=facts.party(visit.job),
            head=facts.identity(visit),
            sides=tuple(side(db, visit, each, display.units) for each in SIDES),
            made_at=at,
            boosted=visit.job.is_boosted,
        )


def side(db: Session, visit: Visit, name: str, units: UnitSystem) -> SpringSide:
    """The springs of one side of a head."""
    entered = inputs.of_side(db, visit, name, units)
    needed = shims.of_side(entered, shims.on_hand(shop_or_none(db)))
    valves = each_valve.of_side(entered, needed, units)
    return documents.SpringSide(
        side=name,
        name=entered.spring.name if entered.spring else "",
        figures=tuple(_figures(entered, units)),
        each=tuple(_each(valve, units) for valve in valves),
        worst=tuple(_worst(valves, needed, units)),
        shims=tuple(f"{label}: {shim.words}" for label, shim in needed.items()),
        to_pick=picking(list(needed.values())),
        missing=tuple(_missing(name, valves)),
        alarms=tuple(filter(None, (entered.pressure.not_taken_off,))),
        to_enter=tuple(_to_enter(entered, valves)),
        cautions=(
            *_beyond(entered, valves, units),
            *_disputed(entered, units),
            *_disputed_boost(entered),
            *_less_shims(entered),
        ),
        curve=_curve(entered, valves),
    )


def of_head(db: Session, visit: Visit) -> list[Shim]:
    """Shims of every valve with a measured and a wanted height, the intake's first."""
    on_hand, units = shims.on_hand(shop_or_none(db)), facts.display(db).units
    return [
        shim
        for item in SIDES
        for shim in shims.of_side(inputs.of_side(db, visit, item, units), on_hand).values()
    ]


def picking(needed: Sequence[Shim]) -> str:
    """Shims to pick, as "6 × 0.030 in, 2 × 0.015 in"."""
    return ", ".join(f"{count} × {piece}" for count, piece in shims.to_pick(needed))


def _figures(entered: Inputs, units: UnitSystem) -> Iterator[Figure]:
    """The springs as on record, and what they come to at the height wanted."""
    spring, curve = entered.spring, entered.loads
    usual = gettext("usual on this engine type") if entered.own is None else ""
    for point in spring.points if spring else ():
        source = gettext("measured") if point.measured else gettext("as listed")
        working = ", ".join(filter(None, (source, usual)))
        name = gettext("Load at {height}", height=restated(point.height, "lift", units))
        yield Figure(name, restated(point.load, "force", units), working)
    if spring is not None and curve is not None:
        yield _rate(entered, units)
    if (bind := entered.coil_bind) is not None:
        yield Figure(
            gettext("Coil bind height"), restated(bind, "lift", units), gettext("as entered")
        )
    if entered.lift is not None:
        text = units.text(entered.lift.si, "lift")
        yield Figure(gettext("Valve lift"), text, entered.lift.working)
    if force := entered.pressure.force:
        name = (
            gettext("Taken off for boost")
            if entered.side == "intake"
            else gettext("Taken off for back pressure")
        )
        yield Figure(name, units.text(force, "force"), entered.pressure.working(units))
    yield from _at_wanted(entered, units)


def _rate(entered: Inputs, units: UnitSystem) -> Figure:
    """The rate: one number of a straight line, else from which to which."""
    curve = entered.loads
    if curve is None:
        raise ValueError(gettext("a spring without loads has no rate"))
    ends = (min(curve.rates), max(curve.rates))
    low, high = (units.text(rate, "spring rate") for rate in ends)
    if curve.is_constant_rate or low == high:
        return Figure(gettext("Spring rate"), low, gettext("load ÷ height between the points"))
    working = gettext("between points in turn; loads there by monotone interpolation")
    value = gettext("{low} to {high}", low=low.partition(" ")[0], high=high)
    return Figure(gettext("Spring rate"), value, working)


def _at_wanted(entered: Inputs, units: UnitSystem) -> Iterator[Figure]:
    """Loads and room at the height wanted of the whole side."""
    wanted = entered.wanted(None)
    if wanted is None:
        return
    working = gettext("at the height wanted")
    yield Figure(gettext("Height wanted"), restated(wanted, "lift", units), "")
    curve, lift, spring = entered.loads, entered.lift, entered.spring
    if curve is not None and spring is not None:
        yield Figure(gettext("Seat load"), _about(entered, wanted.si, units), working)
        if lift is not None:
            text = _about(entered, wanted.si - lift.si, units)
            yield Figure(gettext("Load at full lift"), text, working)
    if entered.coil_bind is not None and lift is not None:
        room = float(coil_bind_room(wanted.si, entered.coil_bind.si, lift.si))
        if room < 0.0:
            working = gettext("at the height wanted the spring binds")
        yield Figure(gettext("Room to coil bind"), units.text(room, "lift"), working)


def _about(entered: Inputs, height: float, units: UnitSystem) -> str:
    """Load at a height, with a sign where it lies beyond the points."""
    if entered.loads is None:
        return ""
    text = units.text(entered.loads.load(height), "force")
    return text if entered.loads.covers(height) else f"≈ {text}"


def _each(valve: ValveSpring, units: UnitSystem) -> EachValve:
    def text(value: Value | None, kind: str) -> str:
        return value.text(kind, units) if value is not None else ""

    def load(value: Value | None, is_beyond: bool) -> str:
        words = text(value, "force")
        return f"≈ {words}" if words and is_beyond else words

    return EachValve(
        where=valve.label,
        installed_height=text(valve.height, "lift"),
        shims_in=text(valve.in_now, "lift"),
        shims=_shims(valve.shim),
        fitted_height=text(valve.fitted, "lift"),
        seat_load=load(valve.seat_load, valve.seat_beyond),
        held=load(valve.held, valve.seat_beyond),
        load_at_lift=load(valve.open_load, valve.open_beyond),
        room_to_coil_bind=text(valve.room, "lift"),
        retainer_room=text(valve.retainer, "lift"),
        squareness=text(valve.squareness, "lift"),
        verdict=valve.verdict,
        is_out=bool(valve.faults),
        is_incomplete=bool(valve.lacks),
        is_named=valve.is_named,
    )


def _shims(shim: Shim | None) -> str:
    if shim is None:
        return ""
    if shim.is_low:
        return shim.amount_low
    return " + ".join(shim.pieces) or gettext("none")


def _worst(
    valves: Sequence[ValveSpring], needed: dict[str, Shim], units: UnitSystem
) -> Iterator[str]:
    """The worst valve for each value, in sentences."""
    shim = shims.worst(list(needed.values()))
    if shim is not None and (shim.thickness or shim.is_low):
        yield gettext(
            "Furthest from the height wanted: {valve}, {words}", valve=shim.label, words=shim.words
        )
    picks: tuple[tuple[str, Pick, str, bool], ...] = (
        (gettext("Least seat load"), lambda one: one.seat_load, "force", False),
        (gettext("Least load left on the seat"), lambda one: one.held, "force", False),
        (gettext("Greatest load at full lift"), lambda one: one.open_load, "force", True),
        (gettext("Least room to coil bind"), lambda one: one.room, "lift", False),
        (gettext("Least room, retainer to guide"), lambda one: one.retainer, "lift", False),
        (gettext("Most out of square"), lambda one: one.squareness, "lift", True),
    )
    for name, pick, kind, is_greatest in picks:
        stated_at = [(value, valve) for valve in valves if (value := pick(valve)) is not None]
        if len(stated_at) < 2:
            continue
        value, valve = (max if is_greatest else min)(stated_at, key=lambda one: one[0].si)
        yield f"{name}: {valve.label}, {value.text(kind, units)}"


def _to_enter(entered: Inputs, valves: Sequence[ValveSpring]) -> Iterator[str]:
    """Sentences that tell the shop what to enter to see more."""
    if entered.loads is None and entered.noted_rate is None:
        yield gettext("Enter two or more loads by height to show loads on the seat and at lift.")
    if entered.lift is None:
        yield gettext("Enter the valve lift or add a cam to show loads and room at full lift.")
    if entered.coil_bind is None:
        yield gettext("Enter the coil bind height to show the room to coil bind.")
    if entered.wanted(None) is None and not any(valve.shim for valve in valves):
        yield gettext("Enter the height wanted to show shims.")
    if entered.visit.head.plan is None:
        yield gettext("Record the head layout of this engine type to list every valve.")


def _missing(side_name: str, valves: Sequence[ValveSpring]) -> Iterator[str]:
    """Valves whose installed height is not measured, in a sentence; empty where all are."""
    valves = [valve for valve in valves if valve.is_named]
    unmeasured = [valve.label for valve in valves if valve.height is None]
    if unmeasured and len(unmeasured) == len(valves):
        yield (
            gettext("No installed height of the intake springs is measured.")
            if side_name == "intake"
            else gettext("No installed height of the exhaust springs is measured.")
        )
    elif len(unmeasured) > MOST_NAMED:
        counts = {"count": len(unmeasured), "all": len(valves)}
        yield gettext("Not measured: {count} of {all} valves.", **counts)
    elif unmeasured:
        yield gettext("Not measured: {valves}.", valves="; ".join(unmeasured))


def _beyond(entered: Inputs, valves: Sequence[ValveSpring], units: UnitSystem) -> Iterator[str]:
    """That loads were read beyond the points entered; empty where none was."""
    curve, spring, wanted = entered.loads, entered.spring, entered.wanted(None)
    if curve is None or spring is None:
        return
    heights = [wanted.si] if wanted is not None else []
    if wanted is not None and entered.lift is not None:
        heights.append(wanted.si - entered.lift.si)
    if any(valve.seat_beyond or valve.open_beyond for valve in valves) or not all(
        map(curve.covers, heights)
    ):
        yield gettext(
            "≈ is beyond the heights entered, {low} to {high}: the load goes on at the last rate. "
            "Measure the spring there.",
            low=restated(spring.points[-1].height, "lift", units),
            high=restated(spring.points[0].height, "lift", units),
        )


def _disputed(entered: Inputs, units: UnitSystem) -> Iterator[str]:
    """That the job names another lift than the one taken."""
    job, lift = entered.visit.job, entered.lift
    stated_lift = job.intake_lift if entered.side == "intake" else job.exhaust_lift
    if lift is None or stated_lift is None:
        return
    if not math.isclose(lift.si, stated_lift.si, rel_tol=ALIKE):
        yield gettext(
            "The job states a lift of {stated}, but {lift} is used here: check which is right.",
            stated=restated(stated_lift, "lift", units),
            lift=units.text(lift.si, "lift"),
        )


def _disputed_boost(entered: Inputs) -> Iterator[str]:
    """That the job names another boost than the one taken off."""
    job, taken = entered.visit.job, entered.pressure.value
    if entered.side != "intake" or job.boost is None or taken is None:
        return
    if not math.isclose(taken.si, job.boost.si, rel_tol=ALIKE):
        yield gettext(
            "The job states a boost of {stated}, but {boost} is taken off here: check which is "
            "right.",
            stated=pretty_text(job.boost.text),
            boost=pretty_text(taken.text),
        )


def _less_shims(entered: Inputs) -> Iterator[str]:
    """Valves whose height was measured before the shims that are in now went in, in a sentence."""
    heights, shims_in = entered.measured(HEIGHT), entered.measured(SHIM)
    early = [
        label for label, row in heights.items() if row.when is When.BEFORE and label in shims_in
    ]
    if early:
        yield gettext(
            "Measured before the work, less the shims in now: {valves}.", valves="; ".join(early)
        )


def _curve(entered: Inputs, valves: Sequence[ValveSpring]) -> SpringCurve | None:
    """Loads by height, to draw, with each valve on its seat and at full lift."""
    curve, spring, lift = entered.loads, entered.spring, entered.lift
    if curve is None or spring is None:
        return None
    seated = [
        (valve.fitted.si, valve.seat_load.si)
        for valve in valves
        if valve.fitted is not None and valve.seat_load is not None
    ]
    opened = [
        (valve.fitted.si - lift.si, valve.open_load.si)
        for valve in valves
        if lift is not None and valve.fitted is not None and valve.open_load is not None
    ]
    return SpringCurve(
        height_unit=spring.points[0].height.unit,
        load_unit=spring.points[0].load.unit,
        path=tuple(curve.path()),
        points=tuple((point.height.si, point.load.si) for point in spring.points),
        seats=tuple(seated),
        opens=tuple(opened),
        coil_bind=entered.coil_bind.si if entered.coil_bind is not None else None,
    )
