"""Photos and documents of a job: keeping them, captioning them, taking them off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import PurePath
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.files import FileStore, UnfitFileError
from shopflow.files import read as read_contents
from shopflow.models import Head, Job, JobFile, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "caption": fields.text(),
    "shown_to_customer": fields.flag(),
}
MOST_AT_ONCE = 20


_OF_JOB = (
    select(JobFile)
    .where(JobFile.job_id == bindparam("job_id"), JobFile.taken_off_at.is_(None))
    .order_by(JobFile.id)
)


@dataclass(frozen=True, slots=True)
class Upload:
    """A file as it came in: what its sender called it, and its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class StagedFile:
    """A file made fit and put into the store, not yet of any job; its fields are JobFile's."""

    name: str
    media_type: str
    sha256: str
    small_sha256: str
    size: int
    width: int
    height: int
    original_sha256: str = ""
    original_size: int = 0


@dataclass(frozen=True, slots=True)
class Batch:
    """Files staged to be attached together, and of each other upload why it is not."""

    staged: tuple[StagedFile, ...]
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Added:
    """Result of an upload: the files stored, and a reason for each file refused."""

    stored: tuple[JobFile, ...]
    refused: tuple[str, ...]


def get(db: Session, file_id: int) -> JobFile:
    """The file with this key. Raises NotFoundError where there is none, or it was taken off."""
    file = db.get(JobFile, file_id)
    if file is None or file.taken_off_at is not None:
        raise NotFoundError(gettext("this file does not exist"))
    return file


def of_job(db: Session, job: Job) -> list[JobFile]:
    """A job's files, in the order they came."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def of_stay(db: Session, visit: Visit) -> list[JobFile]:
    """The files of one head's visit."""
    return [row for row in of_job(db, visit.job) if row.job_head_id == visit.id]


def of_head(db: Session, head: Head) -> list[JobFile]:
    """The files of a head over all its visits, the latest visit first."""
    query = (
        select(JobFile)
        .join(Visit, JobFile.job_head_id == Visit.id)
        .where(Visit.head_id == head.id, JobFile.taken_off_at.is_(None))
        .order_by(Visit.id.desc(), JobFile.id)
    )
    return list(db.scalars(query))


def stage_all(store: FileStore, uploads: Sequence[Upload]) -> Batch:
    """Check uploads and put them into the store; the slow part, which needs no database.

    A refused file does not keep the others out. Raises ValidationError at `files` where
    none can.
    """
    if not uploads:
        raise ValidationError(
            [FieldError("files", gettext("no file chosen: choose at least one photo or document"))]
        )
    if len(uploads) > MOST_AT_ONCE:
        raise ValidationError(
            [
                FieldError(
                    "files",
                    gettext(
                        "too many files: choose at most {most_at_once} at once",
                        most_at_once=MOST_AT_ONCE,
                    ),
                )
            ]
        )
    staged: list[StagedFile] = []
    refused: list[str] = []
    for upload in uploads:
        try:
            staged.append(stage(store, upload))
        except UnfitFileError as error:
            refused.append(f"{_plain_name(upload.name)}: {error}")
    if not staged:
        raise ValidationError([FieldError("files", words) for words in refused])
    return Batch(tuple(staged), tuple(refused))


def stage(store: FileStore, upload: Upload) -> StagedFile:
    """An upload made fit and put into the store, to be attached to a job later.

    Raises UnfitFileError.
    """
    contents = read_contents(upload.content)
    return StagedFile(
        name=_plain_name(upload.name),
        media_type=contents.media_type,
        sha256=store.put(contents.content),
        small_sha256=store.put(contents.small) if contents.is_picture else "",
        size=len(contents.content),
        width=contents.width,
        height=contents.height,
        original_sha256=store.put(contents.original) if contents.is_picture else "",
        original_size=len(contents.original),
    )


def copy_staged(staged: Sequence[StagedFile], staging: FileStore, store: FileStore) -> None:
    """Copy the contents of staged files from one store to another."""
    for file in staged:
        for name in filter(None, (file.sha256, file.small_sha256, file.original_sha256)):
            store.put(staging.get(name))


def attach(
    db: Session,
    by: Actor,
    job: Job,
    visit: Visit | None,
    batch: Batch,
    values: Mapping[str, Any],
) -> Added:
    """Record staged files with a job, or with one head on it.

    Raises ValidationError at `files` where all are there already, or at the caption; RuleError
    where the head is not of the job.
    """
    clean = fields.require(SPECIFICATION, values, "caption", "shown_to_customer")
    if visit is not None and visit.job_id != job.id:
        raise RuleError(gettext("{visit} is not on job {job}", visit=visit.tag, job=job.number))
    here = {row.sha256 for row in of_job(db, job) if row.job_head_id == (visit and visit.id)}
    stored: list[JobFile] = []
    refused = list(batch.refused)
    for item in batch.staged:
        if item.sha256 in here:
            refused.append(gettext("{name}: this file is here already", name=item.name))
            continue
        here.add(item.sha256)
        stored.append(
            JobFile(
                job=job,
                job_head=visit,
                added_at=by.at,
                added_by_id=by.person_id,
                **clean,
                **asdict(item),
            )
        )
    if not stored:
        raise ValidationError([FieldError("files", words) for words in refused])
    db.add_all(stored)
    for row in stored:
        audit_log.record(db, by, row, "added", job=job, note=_in_log(row))
    return Added(tuple(stored), tuple(refused))


def add(
    db: Session,
    by: Actor,
    store: FileStore,
    job: Job,
    visit: Visit | None,
    uploads: Sequence[Upload],
    values: Mapping[str, Any],
) -> Added:
    """Hold files and attach them, where nobody waits for this transaction."""
    return attach(db, by, job, visit, stage_all(store, uploads), values)


def change(db: Session, by: Actor, row: JobFile, values: Mapping[str, Any]) -> JobFile:
    """Change the caption of a file, and whether the customer may see it.

    Raises ValidationError.
    """
    audit_log.change(db, by, row, fields.read(SPECIFICATION, values), job=row.job)
    return row


def take_off(db: Session, by: Actor, row: JobFile) -> None:
    """Take a file off the job's pages; its bytes stay, and the log says who did it."""
    row.taken_off_at = by.at
    audit_log.record(db, by, row, "taken off", job=row.job, note=_in_log(row))


def _in_log(row: JobFile) -> str:
    shown = gettext("the customer may see it") if row.shown_to_customer else ""
    tag = row.job_head.tag if row.job_head else ""
    return ", ".join(part for part in (tag, row.title, shown) if part)


def _plain_name(name: str) -> str:
    """A sender's name for a file, without folders and what cannot be printed."""
    last = PurePath(name.replace("\\", "/")).name
    printable = "".join(letter for letter in last if letter.isprintable())
    return printable.strip()[-120:] or gettext("file")
