"""Integrity check of a shop's records: issued documents, results, summaries, files."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sqlalchemy import or_, select, union
from sqlalchemy.orm import Session, undefer

from shopflow.attached import attached_files
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.errors import NotFoundError, ValidationError
from shopflow.files import FileStore
from shopflow.models import (
    Certificate,
    Counter,
    Invoice,
    Job,
    JobFile,
    OutgoingMail,
    Quote,
    Visit,
)
from shopflow.services.bench import sessions
from shopflow.services.bench.summaries import Summary
from shopflow.services.certificates.recomputation import TOLERANCE, recompute
from shopflow.texts import gettext

MOST_DIFFERENCES = 3
"""Figures of one certificate that are named where they do not come out again."""

OF_FILE = (JobFile.sha256, JobFile.small_sha256, JobFile.original_sha256)
"""Columns that name the contents of a job's file."""

Faults = Iterator[str | None]
"""For each thing looked at, what is wrong with it in words, or None."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Result of one check: its subject, the number of items, and the faults."""

    what: str
    count: int
    faults: tuple[str, ...]


def examine(db: Session, store: FileStore) -> Iterator[Finding]:
    """Every check of a shop's records and files, one after the other."""
    checks: dict[str, Callable[[], Faults]] = {
        gettext("certificates as issued"): lambda: _issued(db, Certificate),
        gettext("invoices as issued"): lambda: _issued(db, Invoice),
        gettext("quotes as given"): lambda: _issued(db, Quote),
        gettext("certificates' results come out again"): lambda: _figures(db),
        gettext("heads' kept summaries are those of their readings"): lambda: _summaries(db),
        gettext("files are there and as they were"): lambda: _files(db, store),
        gettext("series count on after the last number"): lambda: _counters(db),
    }
    for subject, check in checks.items():
        looked_at = list(check())
        yield Finding(subject, len(looked_at), tuple(fault for fault in looked_at if fault))


def _issued(db: Session, kind: type[Certificate] | type[Invoice] | type[Quote]) -> Faults:
    """Check that each document's bytes have the SHA-256 they were issued with."""
    query = select(kind.id, kind.number, kind.sha256, kind.pdf).execution_options(yield_per=50)
    for key, number, sha256, pdf in db.execute(query):
        sound = hashlib.sha256(pdf).hexdigest() == sha256
        name = gettext(
            "{tablename} {number} (row {key})", tablename=kind.__tablename__, number=number, key=key
        )
        yield None if sound else gettext("{name}: its PDF is not the one issued", name=name)


def _figures(db: Session) -> Faults:
    """Check that each certificate's results come out again from the tests attached to it."""
    query = select(Certificate).options(undefer(Certificate.pdf)).execution_options(yield_per=50)
    for row in db.scalars(query):
        try:
            files = attached_files(row.pdf)
        except ValueError as error:
            yield f"{row.title}: {error}"
            continue
        recomputed = recompute(from_plain(FlowCertificate, row.snapshot), files)
        words = "; ".join(recomputed.differing[:MOST_DIFFERENCES]) or gettext(
            "no result to compare"
        )
        yield None if recomputed.agrees else f"{row.title}: {words}"


def _summaries(db: Session) -> Faults:
    """Check that the stored summaries of searches agree with the readings, head by head."""
    for visit in db.scalars(select(Visit).execution_options(yield_per=50)):
        if not visit.sessions:
            continue
        try:
            wrong = [
                row.id
                for row, summary in sessions.summaries(visit.sessions)
                if _differs(row, summary)
            ]
        except ValidationError as error:
            yield gettext(
                "{visit}: a test cannot be calculated: {faults}",
                visit=visit.tag,
                faults=error.faults[0],
            )
            continue
        yield (
            gettext(
                "{visit}: summaries of tests {wrong} are out of date", visit=visit.tag, wrong=wrong
            )
            if wrong
            else None
        )


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
            for column in (*OF_FILE, OutgoingMail.attachment_sha256)
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
    return (
        gettext("{name} of job {number}", name=row.name, number=row.number)
        if row
        else gettext("a paper in the outbox")
    )


def _counters(db: Session) -> Faults:
    """Check that no issued number is beyond the count of its series."""
    kinds = {"job": Job.number, "certificate": Certificate.number}
    for counter in db.scalars(select(Counter).where(Counter.series.in_(kinds))):
        numbers = db.scalars(
            select(kinds[counter.series]).where(kinds[counter.series].contains(f"{counter.year}-"))
        )
        last = max((int(number.rpartition("-")[2]) for number in numbers), default=0)
        behind = gettext(
            "series {series} {year}: stands at {last}, used to {last_2}",
            series=counter.series,
            year=counter.year,
            last=counter.last,
            last_2=last,
        )
        yield behind if last > counter.last else None
