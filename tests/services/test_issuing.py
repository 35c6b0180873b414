"""Documents are drawn and stored in one transaction: where drawing fails, no number is used up."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

import pymupdf
import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import issuing, texts
from shopflow.models import CertificateDraft, Counter
from shopflow.services.actor import Actor
from shopflow.services.certificates import drafts, verification
from shopflow.services.certificates.verification import Standing
from tests import factories
from tests.factories import OWN_CHECK


@dataclass(frozen=True)
class Stamp:
    """Something that signs, by whatever function."""

    work: Callable[[bytes], bytes]
    key: str = "0123-4567"

    def __call__(self, pdf: bytes) -> bytes:
        return self.work(pdf)


def test_a_certificate_is_drawn_and_signed_in_the_shops_language(db: Session) -> None:
    factories.create_shop(db, language="en_GB")
    by = factories.someone(db)
    row = factories.create_session(db)
    draft = drafts.write(db, by, row.job_head, [row])
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    drafts.check(db, by, draft, OWN_CHECK, answers)

    def signed(pdf: bytes) -> bytes:
        return pdf + f"% {texts.gettext('Bar color')}".encode()

    issued = issuing.issue_certificate(db, by, draft, Stamp(signed))
    assert issued.pdf.endswith(b"% Bar colour")
    assert texts.language() == texts.SOURCE


def test_a_certificate_that_cannot_be_signed_leaves_no_number_unused(db: Session) -> None:
    by = factories.someone(db)
    row = factories.create_session(db)
    draft = drafts.write(db, by, row.job_head, [row])
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    drafts.check(db, by, draft, OWN_CHECK, answers)
    db.commit()

    def unsigned(pdf: bytes) -> bytes:
        raise OSError("the key cannot be read")

    with pytest.raises(OSError, match="cannot be read"):
        issuing.issue_certificate(db, by, draft, Stamp(unsigned))
    db.rollback()
    assert row.job_head.job.certificates == []
    issued = issuing.issue_certificate(db, by, draft, Stamp(lambda pdf: pdf + b"% signed"))
    assert (issued.number, issued.revision) == ("FC-2026-0001", 1)
    assert issued.pdf.endswith(b"% signed")
    assert issued.sha256 == hashlib.sha256(issued.pdf).hexdigest()
    assert verification.of_bytes(db, issued.pdf).standing is Standing.CURRENT


def checked(db: Session, by: Actor) -> CertificateDraft:
    row = factories.create_session(db)
    draft = drafts.write(db, by, row.job_head, [row])
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    return drafts.check(db, by, draft, OWN_CHECK, answers)


def test_what_was_drawn_before_is_issued_and_nothing_is_drawn_twice(db: Session) -> None:
    by = factories.someone(db)
    draft = checked(db, by)
    signed: list[bytes] = []

    def sign(pdf: bytes) -> bytes:
        signed.append(pdf)
        return pdf + b"% signed"

    stamp = Stamp(sign)
    drawn = issuing.draw_certificate(db, by, draft, stamp)
    assert db.scalars(select(Counter).where(Counter.series == "certificate")).all() == []
    issued = issuing.issue_certificate(db, by, draft, stamp, drawn)
    assert issued.pdf == drawn.pdf
    assert issued.number == drawn.content.number == "FC-2026-0001"
    assert len(signed) == 1


def test_it_is_drawn_again_where_its_number_was_taken_meanwhile(db: Session) -> None:
    by = factories.someone(db)
    first, second = checked(db, by), checked(db, by)
    drawn = issuing.draw_certificate(db, by, first)
    assert issuing.issue_certificate(db, by, second).number == "FC-2026-0001"
    issued = issuing.issue_certificate(db, by, first, drawn=drawn)
    assert issued.number == "FC-2026-0002"
    with pymupdf.open(stream=issued.pdf) as pdf:
        assert "FC-2026-0002" in pdf[0].get_text()
        assert "FC-2026-0001" not in "".join(page.get_text() for page in pdf)
