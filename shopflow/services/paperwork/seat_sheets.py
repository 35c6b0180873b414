"""Seat profiles as documents show them: one for all seats that have the same."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from shopflow.calc.seats import Face, Seat
from shopflow.documents.seat import SeatCutRow, SeatSheet
from shopflow.models import SeatCut, SeatProfile, Visit, When
from shopflow.models.places import SIDES
from shopflow.services.measuring import seat_entry, seat_profiles
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem, pretty_text

CUTTING = frozenset({"seat-cut", "seat-insert"})
"""Codes of the steps that cut seats."""

SEATS = {"intake": lazy("Intake"), "exhaust": lazy("Exhaust")}


def of_visit(visit: Visit, when: When, units: UnitSystem) -> tuple[SeatSheet, ...]:
    """A sheet for each distinct profile of a visit's seats."""
    return tuple(
        sheet(rows[0], units, title(rows)) for rows in distinct(visit, when) if visit.head.plan
    )


def to_cut(db: Session, visit: Visit, units: UnitSystem) -> tuple[SeatSheet, ...]:
    """Seats to cut: a visit's profiles; of a side without any the usual one, if seats are cut."""
    sheets = list(of_visit(visit, When.AFTER, units))
    entered_sides = {row.side for row in seat_profiles.of_visit(visit, When.AFTER)}
    if any(step.counts and step.kind.code in CUTTING for step in visit.operations):
        for side in SIDES:
            row = seat_profiles.usual(db, visit.head.engine_type, side)
            if row is not None and side not in entered_sides:
                heading = gettext("{side}, usual of this engine type", side=SEATS[side])
                sheets.append(sheet(row, units, heading))
    return tuple(sheets)


def distinct(visit: Visit, when: When) -> list[list[SeatProfile]]:
    """Profiles of a visit's seats, those that are alike together."""
    alike: dict[tuple[str, str, str], list[SeatProfile]] = {}
    for row in seat_profiles.of_visit(visit, when):
        key = row.side, seat_profiles.in_words(row.cuts), row.notes
        alike.setdefault(key, []).append(row)
    return list(alike.values())


def title(rows: Sequence[SeatProfile]) -> str:
    """The seats of one side that share a profile, as "Intake, all 4 seats"."""
    first = rows[0]
    seats = [place for row in rows if (place := row.head_place)]
    others = seat_profiles.copies_to(first) if first.job_head else []
    if len(seats) == len(others) + 1 and others:
        return gettext("{side}, all {count} seats", side=SEATS[first.side], count=len(seats))
    labels = ", ".join(seat.label for seat in seats)
    return f"{labels[:1].upper()}{labels[1:]}"


def sheet(profile: SeatProfile, units: UnitSystem, heading: str) -> SeatSheet:
    """A profile as a document shows it, under this heading."""
    seat = seat_entry.seat_of(profile)
    rows = (_row(cut, face, units) for cut, face in zip(profile.cuts, seat.faces, strict=True))
    return SeatSheet(heading, tuple(rows), tuple(facts(seat, units)), seat, profile.notes)


def entered(entry: seat_entry.SeatEntry, units: UnitSystem, heading: str) -> SeatSheet:
    """A profile as typed, not saved yet."""
    cuts = [SeatCut(**cut) for cut in entry.cuts]
    rows = (_row(cut, face, units) for cut, face in zip(cuts, entry.seat.faces, strict=True))
    return SeatSheet(
        heading, tuple(rows), tuple(facts(entry.seat, units)), entry.seat, entry.values["notes"]
    )


def facts(seat: Seat, units: UnitSystem) -> list[tuple[str, str]]:
    """Names and values of what holds for a seat as a whole."""
    contact, fit = seat.contact, seat.fit
    rows = [
        (gettext("Contact width"), units.text(contact.flat_width, "seat")),
        (gettext("Contact mean diameter"), units.text(seat.contact_mean_diameter, "seat")),
        (gettext("Contact below the margin"), _text(seat.contact_position, units)),
        (gettext("Contact below the valve face"), _text(seat.contact_depth, units)),
        (gettext("Valve head diameter"), _text(fit.head_diameter, units)),
        (gettext("Valve margin"), _text(fit.margin, units)),
        (gettext("Throat diameter"), _text(fit.throat_diameter, units)),
        (
            gettext("Throat ÷ valve head"),
            _percent(seat.throat_ratio if fit.throat_diameter is not None else None),
        ),
    ]
    return [(name, value) for name, value in rows if value]


def in_a_line(profile: SeatProfile, units: UnitSystem) -> str:
    """A seat in one line, as "45° seat 1.2 mm wide, 30° and 60° cuts"."""
    contact = next(cut for cut in profile.cuts if cut.is_contact)
    seat = gettext("{angle} seat", angle=pretty_text(contact.angle.text))
    if contact.width:
        width = units.text(contact.width.si, "seat")
        seat = gettext("{seat} {width} wide", seat=seat, width=width)
    others = [pretty_text(cut.angle.text) for cut in profile.cuts if not cut.is_contact]
    if not others:
        return seat
    *first, last = others
    if not first:
        return gettext("{seat}, {angle} cut", seat=seat, angle=last)
    return gettext(
        "{seat}, {angles} and {last} cuts", seat=seat, angles=", ".join(first), last=last
    )


def _row(cut: SeatCut, face: Face, units: UnitSystem) -> SeatCutRow:
    return SeatCutRow(
        angle=pretty_text(cut.angle.text),
        width=units.text(face.width, "seat"),
        outer_diameter=units.text(face.outer_diameter, "seat"),
        inner_diameter=units.text(face.inner_diameter, "seat"),
        radial_width=units.text(face.radial_width, "seat"),
        depth=units.text(face.depth, "seat"),
        blend_radius=_text(face.blend_radius, units),
        tool=cut.tool,
        is_contact=cut.is_contact,
    )


def _text(si: float | None, units: UnitSystem) -> str:
    return "" if si is None else units.text(si, "seat")


def _percent(ratio: float | None) -> str:
    return "" if ratio is None else f"{100 * ratio:.1f} %"
