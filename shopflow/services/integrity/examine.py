"""Every check of a shop's records, one after the other."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator
from functools import partial

from sqlalchemy import func, or_, select, union
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, ValidationError
from shopflow.files import FileStore
from shopflow.models import (
    BenchSession,
    Certificate,
    Fixture,
    Invoice,
    Job,
    JobFile,
    OutgoingMail,
    Quote,
    Role,
    User,
    Visit,
)
from shopflow.services.bench import sessions
from shopflow.services.bench.summaries import Summary
from shopflow.services.certificates.recomputation import TOLERANCE
from shopflow.services.integrity import documents
from shopflow.services.integrity.finding import Faults, Finding, looked_at
from shopflow.texts import gettext

OF_FILE = (JobFile.sha256, JobFile.small_sha256, JobFile.original_sha256)
"""Columns that name the contents of a job's file."""

OF_FIXTURE = (Fixture.photo_sha256, Fixture.photo_small_sha256)


def examine(db: Session, store: FileStore) -> Iterator[Finding]:
    """Every check of a shop's records and files, one after the other."""
    earlier = gettext(
        "open the record in shopflow, compare it with a backup from before, and correct it there"
    )
    reissue = gettext(
        "take the document from a backup from before, or issue a corrected one; the one the "
        "customer holds is genuine"
    )
    checks: dict[str, tuple[Callable[[], Faults], str]] = {
        gettext("certificates as issued"): (lambda: documents.issued(db, Certificate), reissue),
        gettext("invoices as issued"): (lambda: documents.issued(db, Invoice), reissue),
        gettext("quotes as given"): (lambda: documents.issued(db, Quote), reissue),
        gettext("certificates' results come out again"): (lambda: documents.results(db), reissue),
        gettext("invoices' totals are those printed"): (
            lambda: documents.totals(db, Invoice),
            reissue,
        ),
        gettext("quotes' totals are those printed"): (lambda: documents.totals(db, Quote), reissue),
        gettext("heads' kept summaries are those of their readings"): (
            lambda: _summaries(db),
            earlier,
        ),
        gettext("files are there and as they were"): (
            lambda: _files(db, store),
            gettext("copy the file named by its SHA-256 from a backup into the folder 'files'"),
        ),
        gettext("series stand at the last number used"): (
            lambda: documents.numbers(db),
            gettext(
                "find out from a backup which documents are missing or were added, before "
                "another number is given out"
            ),
        ),
        gettext("an owner can sign in"): (
            lambda: _owners(db),
            gettext("make somebody an owner with 'shopflow people'"),
        ),
    }
    for subject, (check, advice) in checks.items():
        yield Finding.of(subject, check(), advice)


def _owners(db: Session) -> Faults:
    """Check that somebody can look after the shop's accounts."""
    owners = select(func.count()).select_from(User).where(User.role == Role.OWNER, User.active)
    people = select(func.count()).select_from(User)
    if db.scalar(people):
        yield None if db.scalar(owners) else gettext("nobody with the role of owner is active")


def _summaries(db: Session) -> Faults:
    """Check that the stored summaries of searches agree with the readings, head by head."""

    def look(key: int) -> str | None:
        visit = db.get_one(Visit, key)
        try:
            wrong = [
                row.id
                for row, summary in sessions.summaries(visit.sessions)
                if _differs(row, summary)
            ]
        except ValidationError as error:
            return gettext(
                "{visit}: a test cannot be calculated: {faults}",
                visit=visit.tag,
                faults=error.faults[0],
            )
        if not wrong:
            return None
        return gettext(
            "{visit}: summaries of tests {wrong} are out of date", visit=visit.tag, wrong=wrong
        )

    tested = select(BenchSession.job_head_id).where(BenchSession.counts).distinct()
    for key in db.scalars(tested.order_by(BenchSession.job_head_id)).all():
        name = gettext("{table}, row {key}", table=Visit.__tablename__, key=key)
        yield looked_at(name, partial(look, key))


def _differs(row: object, summary: Summary) -> bool:
    return any(not _same(getattr(row, name), value) for name, value in summary.items())


def _same(stored: float | None, computed: float | None) -> bool:
    if stored is None or computed is None:
        return stored is computed
    return math.isclose(stored, computed, rel_tol=TOLERANCE, abs_tol=TOLERANCE)


def _files(db: Session, store: FileStore) -> Faults:
    """Check that every file a record names is in the store, with the bytes it is named by."""
    named = union(
        *(
            select(column).where(column != "")
            for column in (*OF_FILE, *OF_FIXTURE, OutgoingMail.attachment_sha256)
        )
    )
    for name in db.scalars(named):
        try:
            sound = hashlib.sha256(store.get(name)).hexdigest() == name
        except (NotFoundError, OSError) as error:
            yield f"{_page_of_file(db, name)} ({name}): {error}"
        else:
            yield (
                None
                if sound
                else gettext(
                    "{db} ({name}): its bytes have changed", db=_page_of_file(db, name), name=name
                )
            )


def _page_of_file(db: Session, name: str) -> str:
    """Page that shows a file, in words."""
    of_job = select(JobFile.name, Job.number).join(Job, JobFile.job_id == Job.id)
    row = db.execute(of_job.where(or_(*(column == name for column in OF_FILE))).limit(1)).first()
    if row:
        return gettext("{name} of job {number}", name=row.name, number=row.number)
    of_fixture = select(Fixture.name).where(or_(*(column == name for column in OF_FIXTURE)))
    fixture = db.scalar(of_fixture.limit(1))
    return (
        gettext("photo of fixture {name}", name=fixture)
        if fixture
        else gettext("a paper in the outbox")
    )
