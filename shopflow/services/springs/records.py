"""Springs on record: of a side of a head's visit, or usual on an engine type."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import EngineType, Job, Spring, SpringPoint, Visit
from shopflow.models.places import SIDES
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext, translated

Owner = EngineType | Visit

FIELDS: fields.Specification = {
    "name": fields.text(),
    "coil_bind_height": fields.quantity("length", above=0.0),
    "wanted_height": fields.quantity("length", above=0.0),
    "least_bind_room": fields.quantity("length", above=-1e-12),
    "least_retainer_room": fields.quantity("length", above=-1e-12),
    "valve_lift": fields.quantity("length", above=0.0),
    "lobe_lift": fields.quantity("length", above=0.0),
    "rocker_ratio": fields.decimal(),
    "lash": fields.quantity("length", above=-1e-12),
    "notes": fields.words(),
}
POINT: fields.Specification = {
    "height": fields.quantity("length", required=True, above=0.0),
    "load": fields.quantity("force", required=True, above=-1e-9),
    "measured": fields.flag(),
}
MOST_POINTS = 20


def of_owner(db: Session, owner: Owner, side: str) -> Spring | None:
    """The springs of a side of an engine type or a visit; none where there are none on record.

    Raises NotFoundError for a side that no head has.
    """
    if side not in SIDES:
        raise NotFoundError(gettext("this side does not exist: choose intake or exhaust"))
    column = Spring.engine_type_id if isinstance(owner, EngineType) else Spring.job_head_id
    return db.scalar(select(Spring).where(column == owner.id, Spring.side == side))


def get(db: Session, spring_id: int) -> Spring:
    """The springs with this key. Raises NotFoundError."""
    row = db.get(Spring, spring_id)
    if row is None:
        raise NotFoundError(gettext("these springs do not exist"))
    return row


def usual(db: Session, visit: Visit, side: str) -> Spring | None:
    """The usual springs of a head's side, by its engine type."""
    return of_owner(db, visit.head.engine_type, side)


def save(
    db: Session,
    by: Actor,
    owner: Owner,
    side: str,
    values: Mapping[str, Any],
    points: Sequence[Mapping[str, Any]],
) -> Spring:
    """Save the springs of a side, its loads by height with them; replaces those on record.

    A point left empty counts for nothing. Raises ValidationError keyed as "coil_bind_height" or
    "points-0-load".
    """
    clean, rows = read(values, points)
    row = of_owner(db, owner, side)
    before = contents(row) if row else {}
    verb = "added" if row is None else "changed"
    if row is None:
        key = "engine_type" if isinstance(owner, EngineType) else "job_head"
        row = Spring(**{key: owner}, side=side)
        db.add(row)
    for name, value in clean.items():
        setattr(row, name, value)
    if _typed(row.points) != [_values(point) for point in rows]:
        row.points.clear()
        # The old points must go before new ones take their heights.
        db.flush()
        row.points.extend(SpringPoint(**point) for point in rows)
        # Points are rows of their own, and a second writer must still be seen.
        flag_modified(row, "side")
    after = contents(row)
    changes = {
        name: [before.get(name, ""), after.get(name, "")]
        for name in before | after
        if before.get(name) != after.get(name)
    }
    if changes or verb == "added":
        audit_log.record(db, by, row, verb, job=_job(owner), note=translated(side), changes=changes)
    return row


def remove(db: Session, by: Actor, row: Spring) -> None:
    """Remove the springs of a side from the records."""
    audit_log.record(
        db, by, row, "removed", job=_job(row.owner), note=f"{translated(row.side)} {row.name}"
    )
    db.delete(row)
    db.flush()


def contents(row: Spring) -> dict[str, str]:
    """A spring's fields in words, its points in one, for the log."""
    points = sorted(row.points, key=lambda point: -point.height.si)
    return in_words(
        {name: getattr(row, name) for name in FIELDS},
        [{name: getattr(point, name) for name in POINT} for point in points],
    )


def in_words(values: Mapping[str, Any], points: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Fields as `read` gives them in words, the points in one; those that are empty left out."""
    words = {name: audit_log.in_words(value) for name, value in values.items()}
    words["points"] = "; ".join(
        gettext("{load} at {height} measured", load=point["load"], height=point["height"])
        if point["measured"]
        else gettext("{load} at {height}", load=point["load"], height=point["height"])
        for point in points
    )
    return {name: text for name, text in words.items() if text}


def _job(owner: Owner) -> Job | None:
    return owner.job if isinstance(owner, Visit) else None


def _typed(points: Sequence[SpringPoint]) -> list[tuple[Any, ...]]:
    return [_values({name: getattr(point, name) for name in POINT}) for point in points]


def _values(point: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(point[name] for name in POINT)


def read(
    values: Mapping[str, Any], points: Sequence[Mapping[str, Any]]
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Fields and points as they are recorded, the highest first. Raises ValidationError."""
    faults: list[FieldError] = []
    clean: dict[str, Any] = {}
    try:
        clean = fields.read(FIELDS, values)
    except ValidationError as error:
        faults += error.faults
    rows: dict[int, dict[str, Any]] = {}
    for index, point in enumerate(points):
        if not (_text(point.get("height")) or _text(point.get("load"))):
            continue
        try:
            rows[index] = fields.require(POINT, point, *POINT)
        except ValidationError as error:
            faults += [
                FieldError(f"points-{index}-{fault.key}", fault.message) for fault in error.faults
            ]
    if not faults:
        faults += [*_misshapen(rows), *_binding(clean, rows), *_unlifted(clean)]
    if faults:
        raise ValidationError(faults)
    return clean, sorted(rows.values(), key=lambda row: -row["height"].si)


def _text(value: Any) -> str:
    return "" if value is None else str(value).strip()


def _misshapen(rows: Mapping[int, Mapping[str, Any]]) -> Iterator[FieldError]:
    """A fault at each point that no spring can have beside the others."""
    if len(rows) == 1:
        (index,) = rows
        message = gettext("one point is not enough: enter a second height and load")
        yield FieldError(f"points-{index}-height", message)
    if len(rows) > MOST_POINTS:
        message = gettext("too many points: enter at most {most}", most=MOST_POINTS)
        yield FieldError(f"points-{MOST_POINTS}-height", message)
    falling = sorted(rows.items(), key=lambda item: (-item[1]["height"].si, item[0]))
    for (_, above), (index, row) in pairwise(falling):
        if row["height"].si == above["height"].si:
            message = gettext("'{height}' is entered twice: remove one", height=row["height"])
            yield FieldError(f"points-{index}-height", message)
        elif row["load"].si <= above["load"].si:
            message = gettext(
                "the load must rise as the spring is compressed: enter more than {load}, the load "
                "at {height}",
                load=above["load"],
                height=above["height"],
            )
            yield FieldError(f"points-{index}-load", message)


def _binding(
    clean: Mapping[str, Any], rows: Mapping[int, Mapping[str, Any]]
) -> Iterator[FieldError]:
    """A fault at each height at which the spring binds already."""
    bind, wanted = clean.get("coil_bind_height"), clean.get("wanted_height")
    if bind is None:
        return
    message = gettext("the spring binds at {bind}: check both heights", bind=bind)
    if wanted is not None and wanted.si <= bind.si:
        yield FieldError("wanted_height", message)
    for index, row in rows.items():
        if row["height"].si < bind.si:
            yield FieldError(f"points-{index}-height", message)


def _unlifted(clean: Mapping[str, Any]) -> Iterator[FieldError]:
    """A fault where the lift is entered in two ways, or nothing of it is left."""
    valve, lobe, ratio, lash = (
        clean.get(name) for name in ("valve_lift", "lobe_lift", "rocker_ratio", "lash")
    )
    if valve is not None and lobe is not None:
        message = gettext("enter the valve lift or the lobe lift, not both")
        yield FieldError("valve_lift", message)
    if ratio is not None and lobe is None:
        yield FieldError("lobe_lift", gettext("enter the lobe lift as well"))
    if ratio is not None and ratio == 0:
        yield FieldError("rocker_ratio", gettext("enter a ratio above 0"))
    lift = valve.si if valve is not None else None
    if lift is None and lobe is not None:
        lift = lobe.si * float(1 if ratio is None else ratio)
    if lift is not None and lash is not None and lash.si >= lift:
        yield FieldError("lash", gettext("the lash leaves no valve lift: check both"))
