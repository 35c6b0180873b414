"""Seat profiles of heads and of engine types: saved, copied to a side, removed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import (
    EngineType,
    HeadPlace,
    HeadPlan,
    PlaceKind,
    SeatCut,
    SeatProfile,
    Visit,
    When,
)
from shopflow.models.places import SIDES
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.measuring import seat_entry
from shopflow.services.measuring.seat_entry import SIZES
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem

CUT = ("angle", "width", "outer_diameter", "blend_radius", "tool", "is_contact")
"""Columns of a cut that are typed."""


def get(db: Session, profile_id: int) -> SeatProfile:
    """The seat profile with this key. Raises NotFoundError."""
    row = db.get(SeatProfile, profile_id)
    if row is None:
        raise NotFoundError(gettext("this seat profile does not exist"))
    return row


def seats_of(visit: Visit) -> list[HeadPlace]:
    """Seats of a head, the intake side first. Raises NotFoundError without a head layout."""
    seats = plan_of(visit).places(PlaceKind.SEAT)
    return sorted(seats, key=lambda seat: SIDES.index(seat.side))


def seat_at(visit: Visit, cylinder: int, side: str, valve: int) -> HeadPlace:
    """A seat of a head. Raises NotFoundError."""
    seat = plan_of(visit).place_at(PlaceKind.SEAT, (cylinder, side, valve))
    if seat is None:
        raise NotFoundError(gettext("this seat is not on this head: choose one of its seats"))
    return seat


def profile_at(visit: Visit, seat: HeadPlace, when: When) -> SeatProfile | None:
    """The profile on record of a seat; none where it is not."""
    return next((row for row in of_visit(visit, when) if _key(row) == seat.key), None)


def of_visit(visit: Visit, when: When) -> list[SeatProfile]:
    """Profiles of a visit's seats, in the order of `seats_of`."""
    rows = [row for row in visit.seat_profiles if row.when is when]
    return sorted(rows, key=lambda row: (SIDES.index(row.side), row.cylinder, row.valve))


def earlier(db: Session, visit: Visit) -> list[Visit]:
    """Earlier visits of the casting that have seat profiles, latest first."""
    query = (
        select(Visit)
        .where(Visit.head_id == visit.head_id, Visit.id < visit.id)
        .where(Visit.seat_profiles.any())
        .order_by(Visit.id.desc())
    )
    return list(db.scalars(query))


def usual(db: Session, engine_type: EngineType, side: str) -> SeatProfile | None:
    """The usual profile of a side of an engine type's heads."""
    columns = SeatProfile.engine_type_id, SeatProfile.side
    query = select(SeatProfile).where(columns[0] == engine_type.id, columns[1] == side)
    return db.scalar(query)


def save(
    db: Session,
    by: Actor,
    visit: Visit,
    seat: HeadPlace,
    when: When,
    values: Mapping[str, Any],
    units: UnitSystem,
) -> SeatProfile:
    """Save a seat's profile as typed. Raises ValidationError at its fields."""
    entry = seat_entry.read(values, units, when)
    row = profile_at(visit, seat, when)
    if row is None:
        cylinder, side, valve = seat.key
        row = SeatProfile(job_head=visit, cylinder=cylinder, side=side, valve=valve, when=when)
    _write(db, by, row, entry.values, entry.cuts)
    return row


def save_usual(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    side: str,
    values: Mapping[str, Any],
    units: UnitSystem,
) -> SeatProfile:
    """Save the usual profile of a side. Raises ValidationError at its fields."""
    entry = seat_entry.read(values, units)
    row = usual(db, engine_type, side) or SeatProfile(engine_type=engine_type, side=side)
    _write(db, by, row, entry.values, entry.cuts)
    return row


def copies_to(profile: SeatProfile) -> list[HeadPlace]:
    """The other seats of its side of the head."""
    visit = profile.job_head
    seats = seats_of(visit) if visit else []
    return [seat for seat in seats if seat.side == profile.side and seat.key != _key(profile)]


def copy_to_side(db: Session, by: Actor, profile: SeatProfile) -> int:
    """Give all seats of its side this profile; the number of seats that got it.

    What they had is replaced, and stays in the log of changes.
    """
    visit = profile.job_head
    if visit is None:
        raise NotFoundError(gettext("this seat profile is of no head"))
    values = typed_values(profile)
    cuts = [{name: getattr(cut, name) for name in CUT} for cut in profile.cuts]
    seats = copies_to(profile)
    for seat in seats:
        row = profile_at(visit, seat, profile.when)
        if row is None:
            cylinder, side, valve = seat.key
            row = SeatProfile(
                job_head=visit, cylinder=cylinder, side=side, valve=valve, when=profile.when
            )
        _write(db, by, row, values, cuts)
    return len(seats)


def remove(db: Session, by: Actor, profile: SeatProfile) -> None:
    """Remove a profile."""
    visit = profile.job_head
    note = f"{_label(profile)}: {in_words(profile.cuts)}"
    audit_log.record(db, by, profile, "removed", job=visit.job if visit else None, note=note)
    if visit is None:
        db.delete(profile)
    else:
        visit.seat_profiles.remove(profile)
    db.flush()


def in_words(cuts: Sequence[SeatCut]) -> str:
    """Cuts in short, as "30 deg, 45 deg 1.2 mm (seat), 60 deg"."""
    return ", ".join(
        " ".join(
            [
                cut.angle.text,
                *([cut.width.text] if cut.width else []),
                *([f"Ø {cut.outer_diameter.text}"] if cut.outer_diameter else []),
                *([f"R {cut.blend_radius.text}"] if cut.blend_radius else []),
                *([cut.tool] if cut.tool else []),
                *(["(seat)"] if cut.is_contact else []),
            ]
        )
        for cut in cuts
    )


def _write(
    db: Session,
    by: Actor,
    row: SeatProfile,
    values: Mapping[str, Any],
    cuts: Sequence[Mapping[str, Any]],
) -> None:
    """Set a profile's values and cuts; logs what changed of them."""
    job = row.job_head.job if row.job_head else None
    before, is_new = in_words(row.cuts), row.id is None
    sizes = {name: getattr(row, name) for name in values}
    if is_new:
        db.add(row)
    for name, value in values.items():
        setattr(row, name, value)
    row.at, row.person = by.at, by.person
    if row.cuts:
        row.cuts = []
        # The positions are free again before others take them.
        db.flush()
    row.cuts = [SeatCut(position=index, **cut) for index, cut in enumerate(cuts, start=1)]
    after = in_words(row.cuts)
    if is_new:
        audit_log.record(db, by, row, "added", job=job, note=f"{_label(row)}: {after}")
        return
    changes = {
        name: [audit_log.in_words(sizes[name]), audit_log.in_words(value)]
        for name, value in values.items()
        if sizes[name] != value
    }
    if before != after:
        changes["cuts"] = [before, after]
    if changes:
        audit_log.record(db, by, row, "changed", job=job, note=_label(row), changes=changes)


def _label(row: SeatProfile) -> str:
    """A profile in words, as "cylinder 2, intake seat, after"."""
    if row.engine_type is not None:
        return gettext(
            "{engine}, {side}, usual seat", engine=row.engine_type.title, side=translated(row.side)
        )
    seat = row.head_place
    return f"{seat.label if seat else translated(row.side)}, {translated(row.when)}"


def _key(row: SeatProfile) -> tuple[int | None, str, int | None]:
    return row.cylinder, row.side, row.valve


def plan_of(visit: Visit) -> HeadPlan:
    """The places of a head. Raises NotFoundError without a head layout."""
    plan = visit.head.plan
    if plan is None:
        raise NotFoundError(gettext("the head layout of this engine type is not recorded"))
    return plan


def typed_values(profile: SeatProfile) -> dict[str, Any]:
    """Sizes and notes of a profile, by column."""
    return {name: getattr(profile, name) for name in (*SIZES, "notes")}
