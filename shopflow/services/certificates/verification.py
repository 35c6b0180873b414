"""The standing of a paper: told to anyone who holds it, by its bytes, its code or what it says.

Only the bytes tell that a paper is as issued: a forged one may carry a true code. By code, or of a
copy, the answer is what the certificate of that code states, to be compared with the paper in hand.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import claims
from shopflow.claims import Claim
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.models import Certificate, CertificateSession, Invoice, OutgoingMail, Quote
from shopflow.services.certificates import issue
from shopflow.services.certificates.altered_lines import AlteredPassage, altered_passages
from shopflow.texts import gettext, translated


class Standing(StrEnum):
    """The worth of a paper."""

    CURRENT = "current"
    REPLACED = "replaced"
    WITHDRAWN = "withdrawn"
    GENUINE = "genuine"
    """A paper that is no certificate, byte for byte as it left the shop."""

    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Answer:
    """Answer to the holder of a document."""

    standing: Standing
    title: str = ""
    exact: bool = False
    """True where the bytes of the PDF were compared and are those issued."""

    certificate: FlowCertificate | None = None
    """Contents of the certificate, to be compared with the document in hand."""

    code: str = ""
    left_at: datetime | None = None
    """Time when a document other than a certificate was issued or sent."""

    claim: Claim | None = None
    """Claims of a PDF whose bytes are not those of a document stored here."""

    altered: tuple[AlteredPassage, ...] = ()
    """Passages of the certificate's text that such a PDF has differently."""

    compared: bool = False
    """True where both texts could be read and were compared."""

    replaced_by: str = ""
    """Title of the revision that holds now."""

    replacement_withdrawn: bool = False
    withdrawn_at: datetime | None = None
    withdrawn_by: str = ""
    withdrawal_reason: str = ""


UNKNOWN = Answer(Standing.UNKNOWN)
_NO_CODE = "0000-0000-0000-0000"
_NOT_OF_A_CODE = re.compile(r"[^0-9A-F]")
_OF_A_TEST = re.compile(r"(\d{1,9})\.toml$")


def of_pdf(db: Session, content: bytes, read: Callable[[bytes], Claim] = claims.read) -> Answer:
    """The standing of a PDF: byte for byte, or else what it says it is."""
    answer = of_bytes(db, content)
    if answer is not UNKNOWN:
        return answer
    claim = read(content)
    certificate = _of_code(db, claim.number, claim.code) or _of_tests(db, claim)
    if certificate is None:
        return replace(UNKNOWN, claim=claim if claim.title or claim.tests else None)
    answer = replace(_answer(db, certificate), claim=claim)
    issued = read(certificate.pdf).lines
    if not issued or not claim.lines:
        return answer
    return replace(answer, altered=tuple(altered_passages(issued, claim.lines)), compared=True)


def of_bytes(db: Session, content: bytes) -> Answer:
    """The standing of a PDF whose exact bytes are kept here."""
    certificate = certificate_of(db, content)
    if certificate is not None:
        return replace(_answer(db, certificate), exact=True)
    return _other_paper(db, hashlib.sha256(content).hexdigest())


def of_code(db: Session, number: str, code: str) -> Answer:
    """The standing of the certificate with this number and code, however they are spaced.

    An unknown number and a wrong code are answered alike: both are compared with as many codes.
    """
    certificate = _of_code(db, number, code)
    return UNKNOWN if certificate is None else _answer(db, certificate)


def issued_pdf(db: Session, number: str, code: str) -> tuple[str, bytes] | None:
    """Title and PDF of the certificate with this number and code, unless it was withdrawn."""
    certificate = _of_code(db, number, code)
    if certificate is None or certificate.withdrawn_at is not None:
        return None
    return certificate.title, certificate.pdf


def certificate_of(db: Session, content: bytes) -> Certificate | None:
    """The certificate whose PDF has exactly these bytes."""
    digest = hashlib.sha256(content).hexdigest()
    return db.scalars(select(Certificate).where(Certificate.sha256 == digest)).first()


def _of_code(db: Session, number: str, code: str) -> Certificate | None:
    number = number.replace("\x00", "").strip().upper().partition(" ")[0][:20]
    query = select(Certificate.id, Certificate.code).where(Certificate.number == number)
    stored = [(row.id, row.code) for row in db.execute(query)] or [(None, _NO_CODE)]
    typed = _plain(code)
    # Every one is compared, whether an earlier one went or not.
    matching = [
        key
        for key, stored_code in stored
        if hmac.compare_digest(_plain(stored_code), typed) and key
    ]
    return db.get(Certificate, matching[0]) if matching else None


def _of_tests(db: Session, claim: Claim) -> Certificate | None:
    """The certificate that rests on exactly the tests inside a PDF: the one named, or the last."""
    keys = {int(part[1]) for name in claim.tests if (part := _OF_A_TEST.search(name))}
    query = (
        select(Certificate)
        .join(CertificateSession, CertificateSession.certificate_id == Certificate.id)
        .where(CertificateSession.session_id.in_(keys))
        .order_by(Certificate.id)
        .distinct()
    )
    alike = [row for row in db.scalars(query) if _tests_of(row) == claim.tests] if keys else []
    named = [row for row in alike if row.title == claim.number]
    return next(iter([*named, *reversed(alike)]), None)


def _tests_of(certificate: Certificate) -> dict[str, str]:
    """SHA-256 of each test a certificate has inside it, by its file's name."""
    return {
        test["file_name"]: hashlib.sha256(test["file_text"].encode()).hexdigest()
        for test in certificate.snapshot["sessions"]
    }


def _other_paper(db: Session, digest: str) -> Answer:
    """A quote, an invoice or a paper sent by e-mail that has these bytes."""
    quote = db.scalars(select(Quote).where(Quote.sha256 == digest)).first()
    if quote is not None:
        return Answer(
            Standing.GENUINE,
            gettext("Quote {title}", title=quote.title),
            exact=True,
            left_at=quote.given_at,
        )
    invoice = db.scalars(select(Invoice).where(Invoice.sha256 == digest)).first()
    if invoice is not None:
        title = f"{translated(invoice.kind.value).capitalize()} {invoice.number}"
        return Answer(Standing.GENUINE, title, exact=True, left_at=invoice.issued_at)
    sent = select(OutgoingMail).where(
        OutgoingMail.attachment_sha256 == digest, OutgoingMail.handed_over_at.is_not(None)
    )
    mail = db.scalars(sent.order_by(OutgoingMail.handed_over_at)).first()
    if mail is not None:
        name, sent_at = mail.attachment_name, mail.handed_over_at
        return Answer(Standing.GENUINE, name, exact=True, left_at=sent_at)
    return UNKNOWN


def _answer(db: Session, certificate_row: Certificate) -> Answer:
    newest = issue.newest(db, certificate_row)
    replaced = newest is not certificate_row
    standing = Standing.REPLACED if replaced else Standing.CURRENT
    if certificate_row.withdrawn_at is not None:
        standing = Standing.WITHDRAWN
    return Answer(
        standing=standing,
        title=certificate_row.title,
        certificate=from_plain(FlowCertificate, certificate_row.snapshot),
        code=certificate_row.code,
        replaced_by=newest.title if replaced else "",
        replacement_withdrawn=replaced and newest.withdrawn_at is not None,
        withdrawn_at=certificate_row.withdrawn_at,
        withdrawn_by=certificate_row.withdrawn_by.name if certificate_row.withdrawn_by else "",
        withdrawal_reason=certificate_row.withdrawal_reason,
    )


def _plain(code: str) -> bytes:
    """The digits of a code, without the marks between them."""
    return _NOT_OF_A_CODE.sub("", code.upper()[:60]).encode("ascii")
