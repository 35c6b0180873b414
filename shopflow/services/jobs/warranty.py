"""Warranty returns: which job a job returns from, why, and who bears it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Bearer, Job, WarrantyReturn
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor

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
        raise RuleError(f"job {past.number} has not left the shop: add the work to it instead")
    if not {visit.head_id for visit in past.heads} & {visit.head_id for visit in job.heads}:
        raise ValidationError(
            [FieldError("heads", f"at least one head of job {past.number} must be here")]
        )
    row = WarrantyReturn(job=job, from_job=past, **clean)
    db.add(row)
    note = f"from job {past.number}: {row.reason}"
    audit_log.record(db, by, row, "returned under warranty", job=job, note=note)
    audit_log.record(db, by, row, "returned under warranty", job=past, note=f"as job {job.number}")
    return row


def get(job: Job) -> WarrantyReturn:
    """Warranty return of a job, with the job it returns from. Raises NotFoundError."""
    if job.return_of is None:
        raise NotFoundError(f"job {job.number} is not a warranty return")
    return job.return_of


def change(db: Session, by: Actor, row: WarrantyReturn, values: Mapping[str, Any]) -> None:
    """Change the reason, or who bears it. Raises ValidationError."""
    audit_log.change(db, by, row, fields.read(SPECIFICATION, values), job=row.job)
