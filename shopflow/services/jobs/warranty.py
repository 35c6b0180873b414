"""Warranty returns: which job a job returns from, why, and who bears it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Bearer, Job, WarrantyReturn
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "reason": fields.text(required=True, most=2000),
    "borne_by": fields.one_of(Bearer),
}


def tie(db: Session, by: Actor, job: Job, past: Job, values: Mapping[str, Any]) -> WarrantyReturn:
    """Record that a job returns from a past one, in both jobs' logs.

    Raises ValidationError, and RuleError where the past job never left the shop or none of its
    heads is on this job.
    """
    clean = fields.require(SPECIFICATION, values, "reason")
    if past.is_open or past.closed_at is None:
        raise RuleError(
            gettext(
                "job {past} has not left the shop: add the work to it instead", past=past.number
            )
        )
    if not {visit.head_id for visit in past.heads} & {visit.head_id for visit in job.heads}:
        raise ValidationError(
            [
                FieldError(
                    "heads",
                    gettext("at least one head of job {past} must be here", past=past.number),
                )
            ]
        )
    row = WarrantyReturn(job=job, from_job=past, **clean)
    db.add(row)
    note = gettext("from job {number}: {reason}", number=past.number, reason=row.reason)
    audit_log.record(db, by, row, "returned under warranty", job=job, note=note)
    note = gettext("as job {number}", number=job.number)
    audit_log.record(db, by, row, "returned under warranty", job=past, note=note)
    return row


def get(job: Job) -> WarrantyReturn:
    """Warranty return of a job, with the job it returns from. Raises NotFoundError."""
    if job.return_of is None:
        raise NotFoundError(gettext("job {job} is not a warranty return", job=job.number))
    return job.return_of


def change(db: Session, by: Actor, row: WarrantyReturn, values: Mapping[str, Any]) -> None:
    """Change the reason, or who bears it. Raises ValidationError."""
    audit_log.change(db, by, row, fields.read(SPECIFICATION, values), job=row.job)
