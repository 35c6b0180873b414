"""The lift a head's valves really get: of its cam, or as entered, with what was taken off."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow.calc.springs import valve_lift
from shopflow.models import Cam, EngineType, Job, Spring, ValveSetUp, Visit
from shopflow.services.engine import cams
from shopflow.services.measuring.as_measured import as_typed
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem, pretty_text


@dataclass(frozen=True)
class Lift:
    """Greatest lift of a side's valves."""

    si: float
    first: Quantity
    """A length it came from, whose unit it is shown in."""

    working: str
    """Origin in words, as "cam Track 260: lobe 0.320 in × 1.5 − 0.016 in of lash"."""


def of_side(
    db: Session, visit: Visit, side: str, own: Spring | None, usual: Spring | None,
    units: UnitSystem,
) -> Lift | None:  # fmt: skip
    """Lift of a side's valves by the most particular record that has it; none where none has."""
    return next(_candidates(db, visit, side, own, usual, units), None)


def _candidates(
    db: Session, visit: Visit, side: str, own: Spring | None, usual: Spring | None,
    units: UnitSystem,
) -> Iterator[Lift]:  # fmt: skip
    lash = own.lash if own and own.lash else usual.lash if usual else None
    if own is not None:
        yield from _entered(own, lash, gettext("as entered with these springs"), units)
    yield from _of_cams(db, visit.job, side, units)
    note = next((row for row in _set_ups(visit) if row.side == side), None)
    if note is not None and note.valve_lift is not None:
        yield _less(note.valve_lift, lash, gettext("hand-off note"), units)
    of_job = visit.job.intake_lift if side == "intake" else visit.job.exhaust_lift
    if of_job is not None:
        yield _less(of_job, lash, gettext("the job’s lift"), units)
    yield from _of_cams(db, visit.head.engine_type, side, units)
    if usual is not None:
        yield from _entered(usual, lash, gettext("usual on this engine type"), units)


def _set_ups(visit: Visit) -> list[ValveSetUp]:
    return visit.hand_off.valves if visit.hand_off else []


def _entered(
    spring: Spring, lash: Quantity | None, source: str, units: UnitSystem
) -> Iterator[Lift]:
    """Lift of a spring's own record: at the valve, or by lobe and rocker."""
    if spring.valve_lift is not None:
        yield _less(spring.valve_lift, lash, source, units)
    elif spring.lobe_lift is not None:
        yield _by_lobe(spring.lobe_lift, str(spring.rocker_ratio or 1), lash, source, units)


def _of_cams(db: Session, owner: Job | EngineType, side: str, units: UnitSystem) -> Iterator[Lift]:
    """The highest lift of an owner's cams: a spring must bear the one that asks most of it."""
    lifts = [
        lift
        for cam in cams.of_owner(db, owner)
        if cam.archived_at is None and (lift := _of_cam(cam, side, units)) is not None
    ]
    if lifts:
        yield max(lifts, key=lambda lift: lift.si)


def _of_cam(cam: Cam, side: str, units: UnitSystem) -> Lift | None:
    document = cams.document(cam)
    lobe = document.intake if side == "intake" else document.exhaust
    if lobe is None:
        return None
    lift = lobe.max_lobe_lift
    if lift is None:
        typed = max(lobe.lifts)
        lift = Quantity(f"{typed} {lobe.lift_unit}", lobe.lift_si(typed))
    source = gettext("cam {cam}", cam=cam.name)
    return _by_lobe(lift, str(lobe.rocker_ratio), lobe.lash, source, units)


def _by_lobe(
    lobe: Quantity, ratio: str, lash: Quantity | None, source: str, units: UnitSystem
) -> Lift:
    lift = float(valve_lift(lobe.si, float(ratio), lash.si if lash else 0.0))
    words = f"{source}: " + gettext(
        "lobe {lobe} × {ratio}", lobe=pretty_text(lobe.text), ratio=ratio
    )
    return Lift(lift, lobe, words + _lash_in_words(lash, lobe, units))


def _less(valve: Quantity, lash: Quantity | None, source: str, units: UnitSystem) -> Lift:
    lift = float(valve_lift(valve.si, 1.0, lash.si if lash else 0.0))
    words = f"{source}: {pretty_text(valve.text)}"
    return Lift(lift, valve, words + _lash_in_words(lash, valve, units))


def _lash_in_words(lash: Quantity | None, first: Quantity, units: UnitSystem) -> str:
    if lash is None:
        return gettext(", lash not taken off")
    return gettext(" − {lash} of lash", lash=as_typed(lash, first, units)) if lash.si else ""
