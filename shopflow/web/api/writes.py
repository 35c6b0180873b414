"""Records that programs add: flow tests, measurements, photos and notes."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import url_for
from sqlalchemy import select
from sqlalchemy.orm import joinedload

from shopflow import models, testfile
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Operation, Scope, Visit
from shopflow.services.bench import sessions
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Upload
from shopflow.services.routing import operations
from shopflow.texts import gettext
from shopflow.web.api import shapes
from shopflow.web.api.bearer import program
from shopflow.web.api.endpoint import text
from shopflow.web.api.interface import interface
from shopflow.web.api.preconditions import demand_unchanged
from shopflow.web.api.writing import Added
from shopflow.web.db import db
from shopflow.web.folder import store

MEASURE = (Scope.MEASURE,)
READ_OR_MEASURE = (Scope.READ, Scope.MEASURE)
PICTURES = "image/jpeg, image/png, image/webp, image/heic"


@interface.writes(
    "/visits/<tag>/sessions", "Add a flow test", shapes.NewFlowTest, shapes.SessionSummary,
    scopes=MEASURE,
)  # fmt: skip
def add_session(tag: str, body: shapes.NewFlowTest) -> Added:
    """Store a flow test exactly as its file states it."""
    visit = jobs.visit(db(), tag)
    document = testfile.loads(body.file)
    row = sessions.store(db(), program(), visit, document, _step(visit, body.after_operation))
    db().flush()
    address = url_for("api.session", session_id=row.id)
    return Added(partial(shapes.SessionSummary.of, row), address)


@interface.writes(
    "/visits/<tag>/measurements", "Add a measurement", shapes.NewMeasurement, shapes.Measurement,
    scopes=MEASURE,
)  # fmt: skip
def add_measurement(tag: str, body: shapes.NewMeasurement) -> Added:
    """Record a measured value, judged by the limits of its engine type."""
    visit = jobs.visit(db(), tag)
    kind = measurements.kind_by_code(db(), body.kind)
    step = _step(visit, body.operation)
    row = measurements.record(db(), program(), visit, kind.id, body.values, step)
    db().flush()
    address = url_for("api.measurement", measurement_id=row.id)
    return Added(partial(shapes.Measurement.of, row), address)


@interface.record(
    "/measurements/<int:measurement_id>", "A measurement", shapes.Measurement,
    scopes=READ_OR_MEASURE,
)  # fmt: skip
def measurement(measurement_id: int) -> shapes.Measurement:
    """A measurement."""
    return shapes.Measurement.of(measurements.get(db(), measurement_id))


@interface.writes(
    "/visits/<tag>/photos", "Add a photo", PICTURES, shapes.File,
    text("caption", "Words shown under it."), text("name", "Name of the file."),
    scopes=MEASURE,
)  # fmt: skip
def add_photo(tag: str, body: bytes, arguments: dict[str, Any]) -> Added:
    """Keep a photo of a head; the customer does not see it before somebody shows it."""
    upload = Upload(arguments.get("name") or gettext("photo"), body)
    # Made fit first: nobody waits to write meanwhile.
    batch = attachments.stage_all(store(), [upload])
    if not batch.staged[0].width:
        raise ValidationError([FieldError("body", gettext("no photo: send a picture"))])
    visit = jobs.visit(db(), tag)
    values = {"caption": arguments.get("caption", ""), "shown_to_customer": False}
    row = attachments.attach(db(), program(), visit.job, visit, batch, values).stored[0]
    db().flush()
    return Added(partial(shapes.File.of, row), url_for("api.file", file_id=row.id))


@interface.page(
    "/files", "Photos and documents of jobs", shapes.File,
    text("job", "Number of their job."), scopes=READ_OR_MEASURE,
)  # fmt: skip
def list_files(arguments: dict[str, Any]) -> Any:
    """Files."""
    row = models.JobFile
    query = select(row).join(row.job).where(row.taken_off_at.is_(None))
    if "job" in arguments:
        query = query.where(models.Job.number == arguments["job"])
    return query.options(joinedload(row.job), joinedload(row.job_head))


@interface.record("/files/<int:file_id>", "A photo or document", shapes.File,
                  scopes=READ_OR_MEASURE)  # fmt: skip
def file(file_id: int) -> shapes.File:
    """A file's record."""
    return shapes.File.of(attachments.get(db(), file_id))


@interface.record("/jobs/<number>/notes", "Notes of a job", shapes.Notes, scopes=READ_OR_MEASURE)
def notes(number: str) -> shapes.Notes:
    """A job's notes."""
    return shapes.Notes(jobs.get(db(), number).notes)


@interface.writes(
    "/jobs/<number>/notes", "Replace the notes of a job", shapes.Notes, shapes.Notes,
    scopes=MEASURE, method="put",
)  # fmt: skip
def replace_notes(number: str, body: shapes.Notes) -> shapes.Notes:
    """Replace notes, where nobody else has changed them since they were read."""
    job = jobs.get(db(), number)
    db().refresh(job, with_for_update=True)
    demand_unchanged(shapes.Notes(job.notes))
    jobs.change(db(), program(), job, {"notes": body.notes})
    db().flush()
    return shapes.Notes(job.notes)


def _step(visit: Visit, key: int | None) -> Operation | None:
    """A head's step by its key. Raises ValidationError where it is of another head, or none."""
    if key is None:
        return None
    try:
        step = operations.get(db(), key)
    except NotFoundError:
        step = None
    if step is None or step.job_head_id != visit.id:
        raise ValidationError(
            [FieldError("operation", gettext("this step is not one of {tag}", tag=visit.tag))]
        )
    return step
