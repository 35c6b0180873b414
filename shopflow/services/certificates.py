"""Flow certificates: issued once, never changed."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.errors import Fault, FaultsError, NotFoundError, RuleError
from shopflow.models import BenchSession, Certificate, CertificateSession, Job
from shopflow.papers import data
from shopflow.papers.explained import ON_CERTIFICATES
from shopflow.papers.snapshot import to_plain
from shopflow.resources import VERSION
from shopflow.services import documents, events, outcomes, sections
from shopflow.services.actor import Actor
from shopflow.services.numbering import next_number
from shopflow.services.shop import settled, zone


def get(db: Session, number: str, revision: int) -> Certificate:
    """The certificate with this number and revision. Raises NotFoundError."""
    found = db.scalars(
        select(Certificate).where(Certificate.number == number, Certificate.revision == revision)
    ).one_or_none()
    if found is None:
        raise NotFoundError(f"there is no certificate {number} revision {revision}")
    return found


def latest(job: Job) -> Certificate:
    """The last one issued on a job. Raises NotFoundError where there is none."""
    if not job.certificates:
        raise NotFoundError(f"job {job.number} has no issued certificate")
    return max(job.certificates, key=lambda item: (item.issued_at, item.id))


def newest(db: Session, certificate: Certificate) -> Certificate:
    """The revision of a certificate that is current."""
    query = (
        select(Certificate)
        .where(Certificate.number == certificate.number)
        .order_by(Certificate.revision.desc())
        .limit(1)
    )
    return db.scalars(query).one()


def issue(
    db: Session,
    by: Actor,
    sessions: Sequence[BenchSession],
    replaces: Certificate | None = None,
    reason: str = "",
) -> Certificate:
    """Issue a certificate of one head's sessions, or a new revision of one.

    A later session is compared with the first of the same port. Raises FaultsError at `sessions`
    or `reason`, RuleError where nobody authorises it or the one it replaces is another job's.
    """
    if by.person is None:
        raise RuleError("a certificate is authorised by a person")
    if not sessions:
        raise FaultsError([Fault("sessions", "choose at least one bench session")])
    stay = sessions[0].job_head
    if any(row.job_head_id != stay.id for row in sessions):
        raise FaultsError([Fault("sessions", "a certificate is of one head")])
    if replaces is not None and replaces.job_id != stay.job_id:
        raise RuleError(f"certificate {replaces.number} is of job {replaces.job.number}")
    if replaces is not None and not reason.strip():
        raise FaultsError([Fault("reason", "say what is corrected, and why")])
    content = prepare(db, by, sessions, replaces, reason)
    pdf = papers.flow_certificate(content)
    certificate = Certificate(
        number=content.number,
        revision=content.revision,
        revision_reason=content.revision_reason,
        supersedes=replaces,
        job=stay.job,
        issued_at=by.at,
        issued_by_id=by.person_id,
        snapshot=to_plain(content),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        sessions=[
            CertificateSession(session=row, position=position)
            for position, row in enumerate(sessions, start=1)
        ],
    )
    db.add(certificate)
    events.record(db, by, certificate, "issued", job=stay.job, note=certificate.title)
    return certificate


def prepare(
    db: Session,
    by: Actor,
    sessions: Sequence[BenchSession],
    replaces: Certificate | None = None,
    reason: str = "",
) -> data.FlowCertificate:
    """What a certificate of these sessions says; its number is taken here."""
    stay = sessions[0].job_head
    ordered = sorted(sessions, key=lambda row: (row.side != "intake", row.position))
    if replaces is None:
        year = by.at.astimezone(zone(settled(db))).year
        number, revision = f"FC-{year}-{next_number(db, 'certificate', year):04d}", 1
    else:
        newest = max(
            item.revision for item in stay.job.certificates if item.number == replaces.number
        )
        number, revision = replaces.number, newest + 1
    return data.FlowCertificate(
        shop=documents.letterhead(db),
        display=documents.display(db),
        number=number,
        revision=revision,
        revision_reason=reason.strip() if replaces else "",
        issued_at=by.at,
        issued_by=by.person.name if by.person else "",
        customer=documents.party(stay.job),
        job=documents.job_facts(db, stay.job),
        head=documents.identity(stay),
        sessions=tuple(
            dataclasses.replace(outcomes.session_result(row), along_port=sections.of_session(row))
            for row in ordered
        ),
        gains=tuple(outcomes.gain(before, after) for before, after in _pairs(ordered)),
        software=VERSION,
        explained=ON_CERTIFICATES,
    )


def _pairs(ordered: Sequence[BenchSession]) -> list[tuple[BenchSession, BenchSession]]:
    """Each later session with the first of the same port."""
    firsts: dict[tuple[str, str], BenchSession] = {}
    pairs = []
    for row in ordered:
        first = firsts.setdefault((row.side, row.cylinder), row)
        if first is not row and first.reference_pressure.si == row.reference_pressure.si:
            pairs.append((first, row))
    return pairs
