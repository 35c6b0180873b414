"""Cams of engine types and of jobs: adding, changing, archiving, and the file of one."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.camfile import CamDocument, LobeDocument
from shopflow.camfile.keys import SIDES
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Cam, EngineType, Job, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext, lazy

Owner = EngineType | Job
OfOwner = Literal["engine_type_id", "job_id"]

_LOBE = ("centreline", "lift_unit", "duration", "max_lobe_lift", "rocker_ratio", "lash")
_ARRAYS = ("angles", "lifts")
_ENGINE = tuple(
    field.name
    for field in dataclasses.fields(CamDocument)
    if field.name not in ("title", "notes", *SIDES)
)
LONGEST_NUMBER = 40
"""Characters that the columns hold."""

UNNAMED = lazy("Cam without a name")


def get(db: Session, cam_id: int) -> Cam:
    """The cam with this key. Raises NotFoundError."""
    cam = db.get(Cam, cam_id)
    if cam is None:
        raise NotFoundError(gettext("this cam does not exist"))
    return cam


def of_owner(db: Session, owner: Owner) -> list[Cam]:
    """Every cam of an engine type or a job by name, archived ones last."""
    column = Cam.engine_type_id if isinstance(owner, EngineType) else Cam.job_id
    query = select(Cam).where(column == owner.id).order_by(Cam.archived_at.isnot(None), Cam.name)
    return list(db.scalars(query))


def for_visit(db: Session, visit: Visit) -> list[Cam]:
    """The cams a head may be judged through: its job's own, then its engine type's."""
    owners: tuple[Owner, ...] = (visit.job, visit.head.engine_type)
    cams = [cam for owner in owners for cam in of_owner(db, owner)]
    return [cam for cam in cams if cam.archived_at is None]


def engine_of(owner: Owner) -> dict[str, Any]:
    """Known sizes and speed of the engine a new cam is for, by the cam's fields."""
    if isinstance(owner, EngineType):
        return {"bore": owner.bore, "stroke": owner.stroke}
    limit = owner.rev_limit_rpm
    speed = {"speed": f"{limit} rpm"} if limit else {}
    types = {visit.head.engine_type for visit in owner.heads}
    return speed | (engine_of(types.pop()) if len(types) == 1 else {})


def create(db: Session, by: Actor, owner: Owner, cam: CamDocument) -> Cam:
    """Save a cam exactly as typed. Raises ValidationError."""
    row = Cam(**_columns(cam))
    if isinstance(owner, EngineType):
        row.engine_type = owner
    else:
        row.job = owner
    db.add(row)
    audit_log.record(db, by, row, "added", job=row.job, note=row.name)
    return row


def change(db: Session, by: Actor, row: Cam, cam: CamDocument) -> None:
    """Change a cam. Raises ValidationError."""
    audit_log.change(db, by, row, _columns(cam), job=row.job)


def archive(db: Session, by: Actor, row: Cam) -> None:
    """Offer a cam no more. Raises RuleError where it is archived already."""
    if row.archived_at is not None:
        raise RuleError(gettext("this cam is archived already"))
    row.archived_at = by.at
    audit_log.record(db, by, row, "archived", job=row.job, note=row.name)


def restore(db: Session, by: Actor, row: Cam) -> None:
    """Offer an archived cam again. Raises RuleError where it is not archived."""
    if row.archived_at is None:
        raise RuleError(gettext("this cam is not archived"))
    row.archived_at = None
    audit_log.record(db, by, row, "restored", job=row.job, note=row.name)


def document(row: Cam) -> CamDocument:
    """The cam as typed."""
    intake, exhaust = (_lobe(row, side) for side in SIDES)
    if intake is None:
        raise ValueError(gettext("a saved cam has an intake lobe"))
    engine = {name: getattr(row, name) for name in _ENGINE}
    return CamDocument(title=row.name, notes=row.notes, **engine, intake=intake, exhaust=exhaust)


def _lobe(row: Cam, side: str) -> LobeDocument | None:
    values: dict[str, Any] = {name: getattr(row, f"{side}_{name}") for name in _LOBE}
    if values["centreline"] is None:
        return None
    for name in _ARRAYS:
        values[name] = tuple(map(Decimal, getattr(row, f"{side}_{name}")))
    return LobeDocument(**values)


def _columns(cam: CamDocument) -> dict[str, Any]:
    """A cam's columns by the model's attributes. Raises ValidationError at the file's keys."""
    text = {"title": cam.title or UNNAMED, "notes": cam.notes}
    clean = fields.read({"title": fields.text(), "notes": fields.words()}, text)
    faults = list(_too_long(cam))
    if faults:
        raise ValidationError(faults)
    engine = {name: getattr(cam, name) for name in _ENGINE}
    lobes = [_lobe_columns(cam, side) for side in SIDES]
    return {"name": clean["title"], "notes": clean["notes"], **engine, **lobes[0], **lobes[1]}


def _lobe_columns(cam: CamDocument, side: str) -> dict[str, Any]:
    lobe: LobeDocument | None = getattr(cam, side)
    if lobe is None:
        nothing: dict[str, Any] = dict.fromkeys(f"{side}_{name}" for name in _LOBE)
        return {**nothing, f"{side}_lift_unit": "", **{f"{side}_{name}": [] for name in _ARRAYS}}
    values = {f"{side}_{name}": getattr(lobe, name) for name in _LOBE}
    arrays = {f"{side}_{name}": list(map(str, getattr(lobe, name))) for name in _ARRAYS}
    return values | arrays


def _too_long(cam: CamDocument) -> Iterator[FieldError]:
    """Numbers with more digits than can be saved as typed."""
    numbers: Mapping[str, Sequence[Decimal | None]] = {
        "engine.compression_ratio": [cam.compression_ratio],
        **{
            f"{side}.{key}": numbers
            for side in SIDES
            if (lobe := getattr(cam, side)) is not None
            for key, numbers in (
                ("rocker_ratio", [lobe.rocker_ratio]),
                ("angle", lobe.angles),
                ("lobe_lift", lobe.lifts),
            )
        },
    }
    for key, value in numbers.items():
        if any(number is not None and len(str(number)) > LONGEST_NUMBER for number in value):
            yield FieldError(
                key,
                gettext(
                    "too long: enter numbers of at most {longest_number} characters",
                    longest_number=LONGEST_NUMBER,
                ),
            )
