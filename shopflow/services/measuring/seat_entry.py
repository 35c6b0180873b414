"""A seat's cuts as people type them, read and checked against the geometry of a seat."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import degrees
from typing import Any

from shopflow.calc.seat_cuts import Cut, Fit, suggested_contact
from shopflow.calc.seat_faults import SeatError, SeatFault, Slip
from shopflow.calc.seats import Seat, cut_seat
from shopflow.errors import FieldError, ValidationError
from shopflow.models import SeatProfile, When
from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem, pretty_text

MOST_CUTS = 10
SIZES = ("head_diameter", "margin", "throat_diameter", "contact_position")
"""Sizes of the valve and throat a seat is cut for: columns of a profile, in the order of Fit."""

LENGTHS = ("width", "outer_diameter", "blend_radius")

_BARE = re.compile(r"\s*[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)\s*")


@dataclass(frozen=True)
class SeatEntry:
    """A profile as typed: its columns, those of its cuts, and all sizes that follow."""

    values: dict[str, Any]
    cuts: tuple[dict[str, Any], ...]
    seat: Seat


def read(values: Mapping[str, Any], units: UnitSystem, when: When = When.AFTER) -> SeatEntry:
    """The profile of a form's fields, with its rows under `cuts`; empty rows are left out.

    A number without a unit is in the shop's, an angle in degrees. Raises ValidationError at the
    fields, as "cuts-0-width".
    """
    unit = units.unit("seat")
    faults: list[FieldError] = []
    profile = _read(_profile(unit), values, "", faults)
    rows = [
        (index, row)
        for index, row in enumerate(values.get("cuts") or ())
        if any(row.get(name) for name in ("angle", "tool", *LENGTHS))
    ]
    if not rows:
        message = gettext("required: enter the angle of the first cut")
        faults.append(FieldError("cuts-0-angle", message))
    cuts = [_read(_cut(unit), row, f"cuts-{index}-", faults) for index, row in rows]
    if faults:
        raise ValidationError(faults)
    if len(cuts) == 1:
        cuts[0]["is_contact"] = True
    try:
        seat = cut_seat([_as_cut(cut) for cut in cuts], _as_fit(profile))
    except SeatError as error:
        places = [index for index, _ in rows]
        raise ValidationError(_in_words(error, cuts, places, units)) from None
    if when is When.AFTER and not seat.is_inside_valve:
        raise ValidationError([_outside(seat, rows, cuts, units)])
    return SeatEntry(profile, tuple(cuts), seat)


def suggested_row(rows: Sequence[Mapping[str, Any]]) -> int | None:
    """Row of the cut most likely to carry the valve; none where one does, or none has an angle."""
    if any(row.get("is_contact") for row in rows):
        return None
    angles: dict[int, float] = {}
    for index, row in enumerate(rows):
        with suppress(ValueError):
            angles[index] = _angle(row.get("angle")).si
    return list(angles)[suggested_contact(list(angles.values()))] if angles else None


def seat_of(profile: SeatProfile) -> Seat:
    """Every size of a profile on record."""
    cuts = [
        Cut(
            cut.angle.si, _si(cut.width), _si(cut.outer_diameter), _si(cut.blend_radius),
            cut.is_contact,
        )
        for cut in profile.cuts
    ]  # fmt: skip
    return cut_seat(cuts, Fit(*(_si(getattr(profile, name)) for name in SIZES)))


def _profile(unit: str) -> fields.Specification:
    return {
        "head_diameter": _length(unit),
        "margin": _length(unit, above=-1e-15),
        "throat_diameter": _length(unit),
        "contact_position": _length(unit, above=-1e-15),
        "notes": fields.text(),
    }


def _cut(unit: str) -> fields.Specification:
    return {
        "angle": _angle,
        **{name: _length(unit) for name in LENGTHS},
        "tool": fields.text(most=80),
        "is_contact": fields.flag(),
    }


def _read(
    specification: fields.Specification,
    values: Mapping[str, Any],
    prefix: str,
    faults: list[FieldError],
) -> dict[str, Any]:
    """The values of these fields; their faults join the others under the prefix."""
    typed = {name: values.get(name) for name in specification}
    try:
        return fields.read(specification, typed)
    except ValidationError as error:
        faults += [FieldError(f"{prefix}{fault.key}", fault.message) for fault in error.faults]
        return {}


def _length(unit: str, above: float = 0.0) -> fields.Reader:
    reader = fields.quantity("length", above=above)
    return lambda value: reader(_with_unit(value, unit))


def _angle(value: Any) -> Quantity:
    angle: Quantity = fields.quantity("angle", required=True, above=0.0)(_with_unit(value, "deg"))
    if degrees(angle.si) > 90.0 + 1e-9:
        raise ValueError(
            gettext("'{text}' is past the valve's axis: enter at most 90 deg", text=angle.text)
        )
    return angle


def _with_unit(value: Any, unit: str) -> Any:
    """Text as typed, with the unit of its column where it is a bare number."""
    text = value.text if isinstance(value, Quantity) else str(value or "").replace("°", " deg")
    return f"{text.strip()} {unit}" if _BARE.fullmatch(text) else text


def _as_cut(cut: Mapping[str, Any]) -> Cut:
    width, outer, radius = (_si(cut[name]) for name in LENGTHS)
    return Cut(cut["angle"].si, width, outer, radius, cut["is_contact"])


def _as_fit(profile: Mapping[str, Any]) -> Fit:
    return Fit(*(_si(profile[name]) for name in SIZES))


def _si(value: Quantity | None) -> float | None:
    return None if value is None else value.si


def _outside(
    seat: Seat,
    rows: Sequence[tuple[int, Any]],
    cuts: Sequence[Mapping[str, Any]],
    units: UnitSystem,
) -> FieldError:
    contact = next(index for index, cut in enumerate(cuts) if cut["is_contact"])
    message = gettext(
        "the seat's outer diameter of {outer} is outside the valve of {valve}: enter a smaller "
        "one, or check the valve",
        outer=units.text(seat.contact.outer_diameter, "seat"),
        valve=units.text(seat.fit.head_diameter, "seat"),
    )
    return FieldError(f"cuts-{rows[contact][0]}-outer_diameter", message)


def _in_words(
    error: SeatError, cuts: Sequence[Mapping[str, Any]], places: Sequence[int], units: UnitSystem
) -> Iterator[FieldError]:
    """Faults of the geometry at their fields."""
    for fault in error.faults:
        field, message = _words(fault, cuts, units)
        row = "" if fault.cut is None else f"cuts-{places[fault.cut]}-"
        if fault.slip is Slip.NO_CONTACT:
            row = f"cuts-{places[0]}-"
        yield FieldError(f"{row}{field}", message)


def _words(
    fault: SeatFault, cuts: Sequence[Mapping[str, Any]], units: UnitSystem
) -> tuple[str, str]:
    """Field and message of a fault."""
    first, second = (*(units.text(length, "seat") for length in fault.lengths), "", "")[:2]
    own = _named(cuts, fault.cut)
    match fault.slip:
        case Slip.ANGLE:
            return "angle", gettext("enter an angle above 0 and up to 90 deg")
        case Slip.NOT_STEEPER:
            before = _named(cuts, (fault.cut or 0) - 1)
            return "angle", gettext(
                "{own} is no steeper than the {before} before it: enter cuts from the chamber to "
                "the throat, each steeper than the last",
                own=own, before=before,
            )  # fmt: skip
        case Slip.NO_CONTACT:
            return "is_contact", gettext("choose one cut that carries the valve")
        case Slip.CONTACT_IS_CYLINDER:
            return "is_contact", gettext("a 90° cut cannot carry the valve: choose another")
        case Slip.NO_DIAMETER:
            return "outer_diameter", gettext(
                "no diameter to start from: enter the outer diameter of this cut, or the valve "
                "head diameter and how far below its margin the seat begins"
            )
        case Slip.NO_SIZE:
            return "width", gettext("the size is missing: enter a width, or both outer diameters")
        case Slip.NO_THROAT:
            return "width", gettext("the size is missing: enter a width, or the throat diameter")
        case Slip.NO_WIDTH:
            return "width", gettext("a 90° cut needs its height: enter a width")
        case Slip.PAST_AXIS:
            return "width", gettext("this cut reaches past the valve's axis: enter a smaller width")
        case Slip.ORDER:
            return "outer_diameter", gettext(
                "the cut begins at {first} and the next at {second}, further out: enter outer "
                "diameters that get smaller toward the throat",
                first=first, second=second,
            )  # fmt: skip
        case Slip.OVERLAP:
            return "width", gettext(
                "the cuts overlap: by its width this one ends at {first}, but the next begins at "
                "{second}. Enter one of the two",
                first=first, second=second,
            )  # fmt: skip
        case Slip.GAP:
            return "width", gettext(
                "the cuts leave a gap: by its width this one ends at {first}, but the next begins "
                "at {second}. Enter one of the two",
                first=first, second=second,
            )  # fmt: skip
        case Slip.POSITION:
            return "contact_position", gettext(
                "by this position the seat begins at {first}, by the cuts at {second}: enter one "
                "of the two",
                first=first, second=second,
            )  # fmt: skip
        case Slip.BLEND:
            return "blend_radius", gettext(
                "this radius leaves nothing of the {face}: enter a smaller one",
                face=_named(cuts, fault.face),
            )
        case Slip.THROAT:
            return "throat_diameter", gettext(
                "the throat of {first} is wider than the last cut, which ends at {second}: enter "
                "the narrowest diameter below the seat",
                first=first, second=second,
            )  # fmt: skip


def _named(cuts: Sequence[Mapping[str, Any]], index: int | None) -> str:
    """A cut by its angle, as "45° cut"."""
    return "" if index is None else gettext(
        "{angle} cut", angle=pretty_text(cuts[index]["angle"].text)
    )  # fmt: skip
