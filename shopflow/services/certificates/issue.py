"""Flow certificates: issued once, never changed; withdrawn where they must not be relied on."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable
from datetime import datetime

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.certificate import LoggedRecords
from shopflow.documents.snapshot import to_plain
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import (
    BenchSession,
    Certificate,
    CertificateDraft,
    CertificateSession,
    DraftState,
    Job,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.certificates import drafts
from shopflow.services.jobs.jobs import must_not_be_practice
from shopflow.services.numbering import coming_number, next_number
from shopflow.services.shop.settings import get_shop, zone
from shopflow.tamper_evidence import log
from shopflow.texts import gettext

PRINTED_DIGITS = 32
"""Digits of the record log's head on a certificate: 128 bits, which nobody finds by trying."""

_OF_STAY = (
    select(Certificate)
    .where(
        Certificate.job_id == bindparam("job_id"),
        Certificate.id.in_(
            select(CertificateSession.certificate_id)
            .join(CertificateSession.session)
            .where(BenchSession.job_head_id == bindparam("stay_id"))
        ),
    )
    .order_by(Certificate.number, Certificate.revision)
)


def get(db: Session, number: str, revision: int) -> Certificate:
    """The certificate with this number and revision. Raises NotFoundError."""
    certificate = db.scalars(
        select(Certificate).where(Certificate.number == number, Certificate.revision == revision)
    ).one_or_none()
    if certificate is None:
        raise NotFoundError(
            gettext(
                "there is no certificate {number} revision {revision}",
                number=number,
                revision=revision,
            )
        )
    return certificate


def of_stay(db: Session, visit: Visit) -> list[Certificate]:
    """Those that state a test of this visit, in their order."""
    if not visit.sessions and not visit.withdrawn_sessions:
        return []
    return list(db.scalars(_OF_STAY, {"job_id": visit.job_id, "stay_id": visit.id}))


def latest(job: Job) -> Certificate:
    """The last one issued on a job and not withdrawn. Raises NotFoundError where there is none."""
    standing = [item for item in job.certificates if item.withdrawn_at is None]
    if not job.certificates:
        raise NotFoundError(gettext("job {job} has no issued certificate", job=job.number))
    if not standing:
        raise NotFoundError(gettext("every certificate of job {job} was withdrawn", job=job.number))
    return max(standing, key=lambda item: (item.issued_at, item.id))


def newest(db: Session, certificate: Certificate) -> Certificate:
    """The last revision of a certificate."""
    query = (
        select(Certificate)
        .where(Certificate.number == certificate.number)
        .order_by(Certificate.revision.desc())
        .limit(1)
    )
    return db.scalars(query).one()


def keep(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    content: documents.FlowCertificate,
    pdf: bytes,
) -> Certificate:
    """Put what `numbered` gave on record with its PDF, in the same transaction."""
    certificate = Certificate(
        number=content.number,
        revision=content.revision,
        revision_reason=content.revision_reason,
        supersedes=draft.replaces,
        job=draft.job_head.job,
        issued_at=by.at,
        issued_by_id=by.person_id,
        snapshot=to_plain(content),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        code=content.verification_code,
        sessions=[
            CertificateSession(session=link.session, position=link.position)
            for link in draft.sessions
        ],
    )
    db.add(certificate)
    audit_log.record(db, by, certificate, "issued", job=certificate.job, note=certificate.title)
    draft.certificate = certificate
    db.flush()
    return certificate


def withdraw(db: Session, by: Actor, certificate: Certificate, reason: str) -> Certificate:
    """Withdraw a certificate, so that nobody relies on it any more: verification reports it.

    Raises ValidationError at `reason`, RuleError where it is withdrawn already or nobody does it.
    """
    if by.person is None:
        raise RuleError(gettext("a certificate is withdrawn by a person"))
    if certificate.withdrawn_at is not None:
        raise RuleError(
            gettext("certificate {certificate} is withdrawn already", certificate=certificate.title)
        )
    clean = fields.read({"reason": fields.text(required=True, most=500)}, {"reason": reason})
    values = {
        "withdrawn_at": by.at,
        "withdrawn_by_id": by.person_id,
        "withdrawal_reason": clean["reason"],
    }
    audit_log.change(db, by, certificate, values, job=certificate.job, verb="withdrawn")
    db.refresh(certificate, ["withdrawn_by"])
    return certificate


def numbered(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    signing_key: documents.SigningKey | None = None,
) -> documents.FlowCertificate:
    """Contents of the certificate: the draft as checked, numbered and authorised.

    The number is taken here, so that none is left unused. Raises RuleError where nobody authorises
    it, the draft is not checked as it stands, or what it replaces was replaced meanwhile.
    """
    return _contents(db, by, draft, signing_key, next_number)


def foreseen(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    signing_key: documents.SigningKey | None = None,
) -> documents.FlowCertificate:
    """Contents of the certificate if it were issued just now; its number is not taken.

    Raises as `numbered`.
    """
    return _contents(db, by, draft, signing_key, coming_number)


def _contents(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    signing_key: documents.SigningKey | None,
    number: Callable[[Session, str, int], int],
) -> documents.FlowCertificate:
    if by.person is None:
        raise RuleError(gettext("a certificate is authorized by a person"))
    must_not_be_practice(draft.job_head.job)
    if draft.state is DraftState.ISSUED:
        raise RuleError(gettext("this draft has been issued already"))
    if draft.checked_by is None:
        raise RuleError(gettext("the draft is not checked yet: check it before it is issued"))
    if draft.replaces is not None and newest(db, draft.replaces) is not draft.replaces:
        raise RuleError(
            gettext(
                "certificate {replaces} was replaced meanwhile: correct the latest one",
                replaces=draft.replaces.title,
            )
        )
    if set(drafts.doubts_of(db, draft)) - set(draft.answers):
        raise RuleError(
            gettext("a doubt of the results is not answered yet: answer it and check again")
        )
    if not drafts.stands_as_checked(db, draft):
        raise RuleError(
            gettext("what the draft states has changed since it was checked: check it again")
        )
    content = dataclasses.replace(
        drafts.stated(db, draft),
        number=draft.replaces.number if draft.replaces else _number(db, by.at, number),
        issued_at=by.at,
        issued_by=by.person.name,
        checked_by=draft.checked_by.name,
        checked_at=draft.checked_at,
        check_statement=draft.check_statement,
        record_log=_log_head(db),
        signing_key=signing_key,
    )
    web = get_shop(db).web_address
    if not web:
        return content
    content = dataclasses.replace(content, verify_at=f"{web}/verify")
    address = f"{web}/verify/{content.number}?code={content.verification_code}"
    return dataclasses.replace(content, url=address)


def _log_head(db: Session) -> LoggedRecords | None:
    """Head of the record log before the certificate itself is in it; None for an empty log."""
    head = log.head(db.connection())
    return LoggedRecords(head.size, head.root[:PRINTED_DIGITS]) if head.size else None


def _number(db: Session, at: datetime, number: Callable[[Session, str, int], int]) -> str:
    year = at.astimezone(zone(get_shop(db))).year
    return f"FC-{year}-{number(db, 'certificate', year):04d}"
