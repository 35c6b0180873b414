"""Scans of ports, kept with the head they are of."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.files import FileStore, scans
from shopflow.files.scans import Scan, UnreadableScanError
from shopflow.models import JobFile, Visit
from shopflow.services.actor import Actor
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Batch, StagedFile, Upload
from shopflow.texts import gettext


def of_visit(db: Session, visit: Visit) -> list[JobFile]:
    """The scans kept with a head, the latest first."""
    rows = attachments.of_stay(db, visit)
    return [row for row in reversed(rows) if row.is_scan]


def get(db: Session, visit: Visit, file_id: int) -> JobFile:
    """A scan of a head. Raises NotFoundError."""
    row = attachments.get(db, file_id)
    if row.job_head_id != visit.id or not row.is_scan:
        raise NotFoundError(gettext("this scan does not exist"))
    return row


def stage(store: FileStore, upload: Upload | None) -> StagedFile:
    """Check an uploaded scan and put it into the store; the slow part, which needs no database.

    Raises ValidationError at `scan`.
    """
    if upload is None:
        raise ValidationError([FieldError("scan", gettext("no file chosen: choose a scan"))])
    try:
        scans.read(upload.content)
    except UnreadableScanError as error:
        raise ValidationError([FieldError("scan", f"{upload.name}: {error}")]) from None
    return attachments.stage(store, upload)


def keep(db: Session, by: Actor, visit: Visit, staged: StagedFile) -> JobFile:
    """Keep a staged scan with a head; one that is there already is not added again."""
    for row in of_visit(db, visit):
        if row.sha256 == staged.sha256:
            return row
    values = {"caption": gettext("Scan of a port"), "shown_to_customer": False}
    added = attachments.attach(db, by, visit.job, visit, Batch((staged,)), values)
    db.flush()
    return added.stored[0]


def load(store: FileStore, row: JobFile) -> Scan:
    """The triangles of a scan on record. Raises ValidationError at `unit` where it is damaged."""
    try:
        return scans.read(store.get(row.sha256))
    except UnreadableScanError as error:
        raise ValidationError([FieldError("unit", f"{row.name}: {error}")]) from None
