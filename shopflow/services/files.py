"""Photos and documents of a job: keeping them, captioning them, taking them off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import Fault, FaultsError, NotFoundError, RuleError
from shopflow.files import FileStore, UnfitFileError
from shopflow.files import read as read_contents
from shopflow.models import Head, Job, JobFile, JobHead
from shopflow.services import events, fields
from shopflow.services.actor import Actor

SPECIFICATION: fields.Specification = {
    "caption": fields.text(),
    "shown_to_customer": fields.flag(),
}
MOST_AT_ONCE = 20


@dataclass(frozen=True, slots=True)
class Upload:
    """A file as it came in: what its sender called it, and its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Added:
    """What became of an upload: the files kept, and of each other why it is not."""

    kept: tuple[JobFile, ...]
    refused: tuple[str, ...]


def get(db: Session, file_id: int) -> JobFile:
    """The file with this key. Raises NotFoundError where there is none, or it was taken off."""
    found = db.get(JobFile, file_id)
    if found is None or found.taken_off_at is not None:
        raise NotFoundError("there is no such file")
    return found


def of_job(db: Session, job: Job) -> list[JobFile]:
    """A job's files, in the order they came."""
    query = select(JobFile).where(JobFile.job_id == job.id, JobFile.taken_off_at.is_(None))
    return list(db.scalars(query.order_by(JobFile.id)))


def of_stay(db: Session, stay: JobHead) -> list[JobFile]:
    """The files of one head's stay."""
    return [row for row in of_job(db, stay.job) if row.job_head_id == stay.id]


def of_head(db: Session, head: Head) -> list[JobFile]:
    """The files of a head over all its stays, the latest stay first."""
    query = (
        select(JobFile)
        .join(JobHead, JobFile.job_head_id == JobHead.id)
        .where(JobHead.head_id == head.id, JobFile.taken_off_at.is_(None))
        .order_by(JobHead.id.desc(), JobFile.id)
    )
    return list(db.scalars(query))


def add(
    db: Session,
    by: Actor,
    store: FileStore,
    job: Job,
    stay: JobHead | None,
    uploads: Sequence[Upload],
    values: Mapping[str, Any],
) -> Added:
    """Keep files with a job, or with one head on it; each is told by its content.

    A file that cannot be kept does not keep the others out. Raises FaultsError at `files` where
    none can, or at the caption; RuleError where the head is not of the job.
    """
    clean = fields.read(SPECIFICATION, values)
    if stay is not None and stay.job_id != job.id:
        raise RuleError(f"{stay.tag} is not on job {job.number}")
    if not uploads:
        raise FaultsError([Fault("files", "choose at least one photo or document")])
    if len(uploads) > MOST_AT_ONCE:
        raise FaultsError([Fault("files", f"at most {MOST_AT_ONCE} files at once")])
    here = {(row.sha256, row.job_head_id) for row in of_job(db, job)}
    kept: list[JobFile] = []
    refused: list[str] = []
    for upload in uploads:
        name = _plain_name(upload.name)
        try:
            row = _kept(store, upload, name)
        except UnfitFileError as error:
            refused.append(f"{name} {error}")
            continue
        row.job, row.job_head = job, stay
        place = (row.sha256, stay.id if stay else None)
        if place in here:
            db.expunge(row) if row in db else None
            refused.append(f"{name} is here already")
            continue
        here.add(place)
        kept.append(row)
    return Added(tuple(kept), tuple(refused))
