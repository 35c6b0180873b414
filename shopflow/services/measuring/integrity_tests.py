"""Results of pressure, vacuum, leak and crack tests: recorded on the step that tests, corrected."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import IntegrityKind, IntegrityTest, Operation
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

NEEDED: dict[IntegrityKind, tuple[str, ...]] = {
    IntegrityKind.PRESSURE: ("pressure", "duration"),
    IntegrityKind.VACUUM: ("pressure", "duration"),
    IntegrityKind.LEAK: ("duration",),
    IntegrityKind.CRACK: (),
}
"""Inputs that each test cannot be judged without, beside its medium and its result."""

RESULTS = {"passed": True, "failed": False}


def get(db: Session, test_id: int) -> IntegrityTest:
    """The test with this key. Raises NotFoundError."""
    row = db.get(IntegrityTest, test_id)
    if row is None:
        raise NotFoundError(gettext("there is no test with this number"))
    return row


def record(db: Session, by: Actor, step: Operation, values: Mapping[str, Any]) -> IntegrityTest:
    """Record a test's result on the step that tests.

    `result` is "passed" or "failed". Raises ValidationError; RuleError where the step tests nothing
    or the job is closed.
    """
    kind = step.kind.tests_by
    if kind is None:
        raise RuleError(
            gettext("“{kind}” is not a pressure, vacuum, leak or crack test", kind=step.kind.name)
        )
    job = step.job_head.job
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state.value))
    needed = dict.fromkeys(("medium", *NEEDED[kind], "result"), "")
    row = IntegrityTest(
        kind=kind, at=by.at, person_id=by.person_id, **_read(kind, {**needed, **values})
    )
    step.integrity_tests.append(row)
    audit_log.record(db, by, row, row.result, job=job, note=_note(row))
    return row


def correct(db: Session, by: Actor, row: IntegrityTest, values: Mapping[str, Any]) -> IntegrityTest:
    """Correct a test's result; the log keeps what it was. Raises ValidationError."""
    clean = _read(row.kind, values)
    audit_log.change(db, by, row, clean, job=row.operation.job_head.job, verb="corrected")
    return row


def _read(kind: IntegrityKind, values: Mapping[str, Any]) -> dict[str, Any]:
    needed = NEEDED[kind]
    specification: fields.Specification = {
        "medium": fields.text(required=True),
        "pressure": fields.quantity("pressure", above=0.0),
        "duration": fields.quantity("time", above=0.0),
        "drop": fields.quantity("pressure", above=-1e-9),
        "result": fields.among(*RESULTS),
        "place": fields.text(),
        "notes": fields.text(),
    }
    empty = [
        FieldError(name, EXAMPLES[name])
        for name in ("medium", "pressure", "duration")
        if (name in needed or name == "medium") and name in values and not values[name]
    ]
    if "result" in values and not values["result"]:
        empty.append(FieldError("result", gettext("Choose passed or failed")))
    if empty:
        raise ValidationError(empty)
    clean = fields.read(specification, values)
    if "result" in clean:
        clean["passed"] = RESULTS[clean.pop("result")]
    return clean


EXAMPLES = {
    "medium": "Enter what it was tested with, for example water",
    "pressure": "Enter the pressure with its unit, for example 40 psi",
    "duration": "Enter how long it was held, for example 10 min",
}


def _note(row: IntegrityTest) -> str:
    location = f" of {row.place}" if row.place else ""
    return f"{row.title}{location}, {row.operation.job_head.tag}: {row.conditions}"
