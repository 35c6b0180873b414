"""Kinds of measurement: the shop adds its own, renames, orders and archives any."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineLimit, Measurement, MeasurementKind, PlaceKind, UsualValue
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import calculated
from shopflow.services.shop import measurement_catalogue
from shopflow.texts import gettext, gettext_noop
from shopflow.units import CONDITION, UNITS, Quantity

LONGEST_CODE = 40
MOST_DECIMALS = 6
DIMENSIONS = (
    gettext_noop("length"),
    gettext_noop("area"),
    gettext_noop("volume"),
    gettext_noop("angle"),
    gettext_noop("force"),
    gettext_noop("force per length"),
    gettext_noop("pressure"),
    gettext_noop("mass"),
    CONDITION,
)
"""Dimensions that a shop's own kinds may have."""

FIXED = ("dimension", "place_kind")
"""Fields a kind keeps where it is built in or has values on record: these depend on them."""


def get(db: Session, kind_id: int) -> MeasurementKind:
    """The kind of measurement with this key. Raises NotFoundError."""
    row = db.get(MeasurementKind, kind_id)
    if row is None:
        raise NotFoundError(gettext("this kind of measurement does not exist: choose another"))
    return row


def list_all(db: Session) -> list[MeasurementKind]:
    """Every kind of measurement, those in use first, in the shop's order."""
    order = (MeasurementKind.active.desc(), MeasurementKind.position, MeasurementKind.name)
    return list(db.scalars(select(MeasurementKind).order_by(*order)))


def is_built_in(kind: MeasurementKind) -> bool:
    """True where every shop starts with it."""
    return kind.code in measurement_catalogue.POSITIONS


def is_fixed(db: Session, kind: MeasurementKind) -> bool:
    """True where it keeps its dimension and place."""
    holders = (Measurement, EngineLimit, UsualValue)
    return is_built_in(kind) or any(
        db.scalar(select(exists().where(holder.kind_id == kind.id))) for holder in holders
    )


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> MeasurementKind:
    """Add a kind of the shop's own after all others. Raises ValidationError."""
    clean = _read(db, {"place_kind": PlaceKind.VALVE, **values}, None)
    last = db.scalar(select(func.max(MeasurementKind.position))) or 0
    kind = MeasurementKind(code=_new_code(db, clean["name"]), position=last + 10, **clean)
    db.add(kind)
    audit_log.record(db, by, kind, "added", note=kind.name)
    return kind


def change(
    db: Session, by: Actor, kind: MeasurementKind, values: Mapping[str, Any]
) -> MeasurementKind:
    """Change a kind; what is on record keeps its value, unit and limits. Raises ValidationError."""
    clean = _read(db, values, kind)
    if is_fixed(db, kind):
        faults = [
            FieldError(name, gettext("cannot be changed: measurements of this kind rest on it"))
            for name in FIXED
            if clean[name] != getattr(kind, name)
        ]
        if faults:
            raise ValidationError(faults)
    audit_log.change(db, by, kind, clean)
    return kind


def archive(db: Session, by: Actor, kind: MeasurementKind) -> MeasurementKind:
    """Offer a kind no more; its measurements stay, and steps ask for it no longer."""
    audit_log.change(db, by, kind, {"active": False}, verb="archived")
    return kind


def restore(db: Session, by: Actor, kind: MeasurementKind) -> MeasurementKind:
    """Offer an archived kind again."""
    audit_log.change(db, by, kind, {"active": True}, verb="restored")
    return kind


def move(db: Session, by: Actor, kind: MeasurementKind, *, earlier: bool) -> None:
    """Move a kind one place up or down among those in use, where there is one."""
    rows = [row for row in list_all(db) if row.active]
    now = rows.index(kind)
    then = now - 1 if earlier else now + 1
    if not 0 <= then < len(rows):
        return
    rows.insert(then, rows.pop(now))
    # Archived kinds and those added at the same place number along.
    for index, row in enumerate(rows, start=1):
        row.position = 10 * index
    audit_log.record(db, by, kind, "moved", note=kind.name)


def _read(db: Session, values: Mapping[str, Any], kind: MeasurementKind | None) -> dict[str, Any]:
    """A kind's fields, checked, its bounds in its dimension. Raises ValidationError."""
    names = ("name", "dimension", "place_kind", "us_unit", "si_unit", "us_decimals", "si_decimals",
             "least", "greatest", "uncertainty")  # fmt: skip
    stated = {**({name: getattr(kind, name) for name in names} if kind else {}), **values}
    dimension = str(stated.get("dimension") or "length")
    if dimension == CONDITION:
        # Words have neither units nor decimals, and any of them is plausible.
        stated |= {"us_unit": "", "si_unit": "", "us_decimals": 0, "si_decimals": 0}
        stated |= {"least": None, "greatest": None, "uncertainty": None}
    clean = fields.require(_specification(dimension), stated, *names)
    faults = _faults(db, clean, kind)
    if faults:
        raise ValidationError(faults)
    return clean


def _specification(dimension: str) -> fields.Specification:
    measured = dimension if dimension in DIMENSIONS else "length"
    decimals = fields.count(required=True)
    symbols = [row.symbol for row in UNITS.values() if row.dimension == measured]
    unit = fields.among(*(symbols or [""]))
    return {
        "name": fields.text(required=True, most=60),
        "dimension": fields.among(*DIMENSIONS),
        "place_kind": fields.one_of(PlaceKind),
        "us_unit": unit,
        "si_unit": unit,
        "us_decimals": decimals,
        "si_decimals": decimals,
        "least": fields.quantity(measured),
        "greatest": fields.quantity(measured),
        "uncertainty": _uncertainty(measured),
    }


def _uncertainty(dimension: str) -> fields.Reader:
    """A reader of an uncertainty in a dimension, or in percent of the value."""

    def read(typed: Any) -> Quantity | None:
        is_share = str(typed or "").rstrip().endswith("%")
        quantity: Quantity | None = fields.quantity("ratio" if is_share else dimension, above=0.0)(
            typed
        )
        if quantity is not None and is_share and quantity.si >= 1.0:
            raise ValueError(gettext("'{text}' is too much: enter less than 100 %",
                                     text=quantity.text))  # fmt: skip
        return quantity

    return read


def _faults(
    db: Session, clean: Mapping[str, Any], kind: MeasurementKind | None
) -> list[FieldError]:
    faults = [
        FieldError(
            name,
            gettext(
                "'{clean}' is too many decimals: enter at most {most_decimals}",
                clean=clean[name],
                most_decimals=MOST_DECIMALS,
            ),
        )
        for name in ("us_decimals", "si_decimals")
        if clean[name] > MOST_DECIMALS
    ]
    same = select(MeasurementKind).where(func.lower(MeasurementKind.name) == clean["name"].lower())
    if any(row is not kind for row in db.scalars(same)):
        faults.append(FieldError("name", gettext("this name is taken: enter another")))
    least, greatest = clean["least"], clean["greatest"]
    if least is not None and greatest is not None and least.si > greatest.si:
        faults.append(FieldError("least", gettext("above the largest value: correct one of them")))
    return faults


def _new_code(db: Session, name: str) -> str:
    """A code no kind has, made from a name: "Valve Ø 2" is "valve 2"."""
    stem = re.sub(r"[^a-z0-9]+", " ", name.lower()).strip()[: LONGEST_CODE - 4] or "measurement"
    in_use = set(db.scalars(select(MeasurementKind.code)))
    codes = (stem if number == 1 else f"{stem} {number}" for number in range(1, len(in_use) + 2))
    return next(code for code in codes if code not in in_use)


def is_calculated(kind: MeasurementKind) -> bool:
    """True where it follows from other kinds and is never typed."""
    return kind.code in calculated.BY_CODE
