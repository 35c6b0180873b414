"""Results of pressure, vacuum, leak and crack tests: recorded, corrected, withdrawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, contains_eager, selectinload

from shopflow.calc.leak_rate import leak_flow
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    IntegrityKind,
    IntegrityPart,
    IntegrityTest,
    IntegrityVerdict,
    JobFile,
    Operation,
    PlaceKind,
    Visit,
)
from shopflow.models.integrity_test import OF_ONE_VALVE
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.measuring import integrity_limits, placing
from shopflow.services.measuring.placing import HasPlaces
from shopflow.texts import gettext, lazy

NEEDED: dict[IntegrityKind, tuple[str, ...]] = {
    IntegrityKind.PRESSURE: ("medium", "pressure", "duration"),
    IntegrityKind.VACUUM: ("medium", "pressure", "duration"),
    IntegrityKind.LEAK: ("medium", "duration"),
    IntegrityKind.CRACK: ("method",),
}
"""Inputs that each test cannot be judged without, beside its verdict."""

HAZARDS: dict[IntegrityKind, tuple[str, ...]] = {
    IntegrityKind.PRESSURE: ("pressure", "hot"),
    IntegrityKind.VACUUM: ("vacuum",),
    IntegrityKind.LEAK: ("pressure", "chemicals"),
    IntegrityKind.CRACK: ("chemicals", "magnetic"),
}
"""Keys of the cautions shown with each kind of test."""

EXAMPLES = {
    "medium": lazy("Enter what it was tested with, for example water"),
    "method": lazy("Enter the method, for example dye penetrant"),
    "pressure": lazy("Enter the pressure with its unit, for example 40 psi"),
    "duration": lazy("Enter how long it was held, for example 10 min"),
}
PLACE = ("part", "cylinder", "side", "valve", "place")
CONDITIONS = ("method", "medium", "pressure", "duration", "drop", "volume", "temperature")
JUDGED = ("pressure", "duration", "drop", "side")
"""Fields that the proposed verdict follows from."""


def _side(value: Any) -> str:
    if value not in ("", None, "intake", "exhaust"):
        raise ValueError(gettext("choose intake, exhaust or neither"))
    return value or ""


def _part(value: Any) -> IntegrityPart | None:
    return fields.one_of(IntegrityPart)(value) if value else None


def _verdict(value: Any) -> IntegrityVerdict | None:
    return fields.one_of(IntegrityVerdict)(value) if value else None


SPECIFICATION: fields.Specification = {
    "part": _part,
    "cylinder": fields.count(least=1),
    "side": _side,
    "valve": fields.text(most=40),
    "place": fields.text(),
    "spot": fields.text(),
    "method": fields.text(),
    "medium": fields.text(),
    "pressure": fields.quantity("pressure", above=0.0),
    "duration": fields.quantity("time", above=0.0),
    "drop": fields.quantity("pressure", above=-1e-9),
    "volume": fields.quantity("volume", above=0.0),
    "temperature": fields.quantity("temperature", above=0.0),
    "result": _verdict,
    "notes": fields.text(),
    "photo_id": fields.count(least=1),
}


def get(db: Session, test_id: int) -> IntegrityTest:
    """The test with this key. Raises NotFoundError."""
    row = db.get(IntegrityTest, test_id)
    if row is None:
        raise NotFoundError(gettext("there is no test with this number"))
    return row


def record(db: Session, by: Actor, step: Operation, values: Mapping[str, Any]) -> IntegrityTest:
    """Record a test's result on the step that tests, as `add`.

    Raises ValidationError; RuleError where the step tests nothing or the job is closed.
    """
    kind = step.kind.tests_by
    if kind is None:
        raise RuleError(
            gettext("“{kind}” is not a pressure, vacuum, leak or crack test", kind=step.kind.name)
        )
    return add(db, by, step.job_head, kind, values, step)


def add(
    db: Session,
    by: Actor,
    visit: Visit,
    kind: IntegrityKind,
    values: Mapping[str, Any],
    step: Operation | None = None,
) -> IntegrityTest:
    """Record a test of a head, for a step of its work plan or beside it.

    `result` is the verdict; empty takes the one the limits propose. Words in `place` alone are a
    region. Raises ValidationError, RuleError where the job is closed.
    """
    _must_be_open(visit)
    return add_past(db, by, visit, kind, values, step)


def add_past(
    db: Session,
    by: Actor,
    visit: Visit,
    kind: IntegrityKind,
    values: Mapping[str, Any],
    step: Operation | None = None,
) -> IntegrityTest:
    """As `add`, on a job that may be closed: the test was made before it was.

    Raises ValidationError.
    """
    clean = _read(db, visit.head, kind, values, visit)
    row = IntegrityTest(kind=kind, at=by.at, person_id=by.person_id, **clean)
    visit.integrity_tests.append(row)
    if step is not None:
        step.integrity_tests.append(row)
    audit_log.record(db, by, row, row.verdict.value, job=visit.job, note=_note(row))
    return row


def add_valves(
    db: Session,
    by: Actor,
    visit: Visit,
    kind: IntegrityKind,
    shared: Mapping[str, Any],
    rows: Mapping[int, Mapping[str, Any]],
    step: Operation | None = None,
) -> list[IntegrityTest]:
    """Record a test of several valves at once: what they share, and each row's own.

    Raises ValidationError with the faults of a row at "rows-2-pressure" and so on, RuleError where
    no row is given or the job is closed.
    """
    if not rows:
        raise RuleError(gettext("no valve is filled in: enter at least one"))
    results: list[IntegrityTest] = []
    faults: dict[str, FieldError] = {}
    for number, values in rows.items():
        own = {"part": IntegrityPart.VALVE.value, **values}
        try:
            results.append(add(db, by, visit, kind, {**shared, **own}, step))
        except ValidationError as error:
            for fault in error.faults:
                key = fault.key if fault.key in shared else f"rows-{number}-{fault.key}"
                faults[key] = FieldError(key, fault.message)
    if faults:
        raise ValidationError(list(faults.values()))
    return results


def correct(
    db: Session, by: Actor, row: IntegrityTest, values: Mapping[str, Any], reason: str
) -> IntegrityTest:
    """Correct a test's result; the log keeps what it was, and the reason.

    A verdict is proposed anew only where what it follows from is changed. Raises ValidationError,
    RuleError where the test was withdrawn.
    """
    _must_count(row)
    names = (*PLACE, *CONDITIONS, "result", "spot", "notes", "photo_id")
    entered = {name: getattr(row, name) for name in names} | dict(values)
    faults: list[FieldError] = []
    clean: dict[str, Any] = {}
    why: dict[str, Any] = {}
    with _collected(faults):
        why = fields.read({"reason": fields.text(required=True)}, {"reason": reason})
    with _collected(faults):
        clean = _read(db, row.job_head.head, row.kind, entered, row.job_head)
    if faults:
        raise ValidationError(faults)
    if all(clean[name] == getattr(row, name) for name in JUDGED):
        del clean["proposed"], clean["limits"]
    job = row.job_head.job
    audit_log.change(db, by, row, clean, job=job, verb="corrected", note=why["reason"])
    return row


def withdraw(db: Session, by: Actor, row: IntegrityTest, reason: str) -> None:
    """Withdraw a test: it stays on record with the reason and counts nowhere.

    Raises ValidationError at `reason`, RuleError where it was withdrawn already.
    """
    _must_count(row)
    clean = fields.read({"reason": fields.text(required=True)}, {"reason": reason})
    values = {
        "withdrawn_at": by.at,
        "withdrawn_by_id": by.person_id,
        "withdrawn_because": clean["reason"],
    }
    visit, step = row.job_head, row.operation
    audit_log.change(db, by, row, values, job=visit.job, verb="withdrawn", note=_note(row))
    db.flush()
    # Both are read anew without it.
    db.expire(visit, ["integrity_tests", "withdrawn_integrity_tests"])
    if step is not None:
        db.expire(step, ["integrity_tests"])


def of_earlier_visits(db: Session, visit: Visit) -> list[IntegrityTest]:
    """The tests that count of the casting's earlier visits, the latest first."""
    query = (
        select(IntegrityTest)
        .join(IntegrityTest.job_head)
        .where(Visit.head_id == visit.head_id, Visit.id < visit.id, IntegrityTest.counts)
        .order_by(IntegrityTest.at.desc(), IntegrityTest.id.desc())
        .options(contains_eager(IntegrityTest.job_head), selectinload(IntegrityTest.decisions))
    )
    return list(db.scalars(query))


def leak_of(row: IntegrityTest) -> float | None:
    """The leak as air at 101.325 kPa, m3/s; none where volume, drop or time is unknown."""
    if row.volume is None or row.drop is None or row.duration is None:
        return None
    return leak_flow(row.volume.si, row.drop.si, row.duration.si)


def read(
    db: Session, head: HasPlaces, kind: IntegrityKind, values: Mapping[str, Any]
) -> dict[str, Any]:
    """A test's fields, checked against its head; nothing is recorded. Raises ValidationError."""
    return _read(db, head, kind, values, None)


def _must_be_open(visit: Visit) -> None:
    job = visit.job
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))


def _must_count(row: IntegrityTest) -> None:
    if not row.counts:
        raise RuleError(gettext("this test is withdrawn: add a new one instead"))


def _read(
    db: Session,
    head: HasPlaces,
    kind: IntegrityKind,
    values: Mapping[str, Any],
    visit: Visit | None,
) -> dict[str, Any]:
    """Fields of a test, with its place, its limits and the verdict they propose."""
    faults = [
        FieldError(name, str(EXAMPLES[name])) for name in NEEDED[kind] if not values.get(name)
    ]
    clean: dict[str, Any] = {}
    place: dict[str, Any] = {}
    with _collected(faults):
        clean = fields.read(SPECIFICATION, values)
    with _collected(faults):
        place = _read_place(head, clean)
    clean |= place
    limit = integrity_limits.holding(db, head.engine_type, kind, clean.get("side", ""))
    proposal = integrity_limits.propose(limit, clean)
    verdict = clean.pop("result", None) or proposal.verdict
    if verdict is None and not values.get("result") and not (limit and faults):
        faults.append(FieldError("result", gettext("Choose a verdict: no limit decides it")))
    photo_id = clean.get("photo_id")
    if photo_id is not None and (visit is None or not _is_photo_of(db, photo_id, visit)):
        faults.append(FieldError("photo_id", gettext("choose a photo of this job")))
    if faults:
        raise ValidationError(faults)
    return clean | {
        "verdict": verdict,
        "proposed": proposal.verdict,
        "limits": proposal.limits,
    }


@contextmanager
def _collected(faults: list[FieldError]) -> Iterator[None]:
    """Collect the faults of each field that has none yet."""
    try:
        yield
    except ValidationError as error:
        there = {fault.key for fault in faults}
        faults += [fault for fault in error.faults if fault.key not in there]


def _read_place(head: HasPlaces, values: Mapping[str, Any]) -> dict[str, Any]:
    """The place tested, complete for its part; words alone are a region.

    Raises ValidationError for a place the head lacks.
    """
    words = values.get("place") or ""
    part = values.get("part") or (IntegrityPart.REGION if words else IntegrityPart.HEAD)
    place: dict[str, Any] = {
        "part": part, "cylinder": None, "side": "", "valve": None, "place": "",
    }  # fmt: skip
    if part is IntegrityPart.REGION:
        if not words:
            message = gettext("Enter the region, for example bolt holes of cylinder 2")
            raise ValidationError([FieldError("place", message)])
        return place | {"place": words}
    if part is IntegrityPart.HEAD:
        return place
    if values.get("cylinder") is None:
        raise ValidationError([FieldError("cylinder", gettext("Enter the cylinder's number"))])
    keys = {"cylinder": values["cylinder"]}
    if part is not IntegrityPart.CYLINDER:
        if not values.get("side"):
            raise ValidationError([FieldError("side", gettext("Choose intake or exhaust"))])
        keys |= {"side": values["side"], "valve": values.get("valve") or ""}
    kind = PlaceKind(part.value)
    place_keys = placing.read_place(kind, head, keys)
    several = len(head.engine_type.valve_names(keys.get("side", ""))) > 1
    if part in OF_ONE_VALVE and place_keys["valve"] is None and several:
        raise ValidationError([FieldError("valve", gettext("Choose the valve"))])
    return place | {**keys, **place_keys}


def _is_photo_of(db: Session, photo_id: int, visit: Visit) -> bool:
    file = db.get(JobFile, photo_id)
    return (
        file is not None
        and file.is_photo
        and file.job_id == visit.job_id
        and file.job_head_id in (None, visit.id)
    )


def _note(row: IntegrityTest) -> str:
    tag, conditions = row.job_head.tag, row.conditions
    if not row.where:
        return f"{row.title}, {tag}: {conditions}"
    return gettext(
        "{test} of {place}, {head}: {conditions}",
        test=row.title,
        place=row.where,
        head=tag,
        conditions=conditions,
    )
