"""Verification of a document for its holder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy.orm import Session

from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.files import FileStore
from shopflow.models import Certificate
from shopflow.services.actor import Actor
from shopflow.services.certificates import issue, verification
from shopflow.services.certificates.verification import Standing
from tests import factories


@pytest.fixture
def certificate(db: Session, machinist: Actor) -> Certificate:
    """An issued certificate."""
    return factories.issue_certificate(db, machinist, [factories.create_session(db)])


def test_code_and_bytes_tell_the_same_standing(
    db: Session, machinist: Actor, certificate: Certificate
):
    def answer_by_code() -> verification.Answer:
        by_code = verification.of_code(db, certificate.number, certificate.code)
        assert not by_code.exact
        assert replace(by_code, exact=True) == verification.of_pdf(db, certificate.pdf)
        return by_code

    assert answer_by_code().standing is Standing.CURRENT
    rows = [link.session for link in certificate.sessions]
    later = factories.issue_certificate(db, machinist, rows, certificate, reason="Serial mistyped.")
    assert (answer_by_code().standing, answer_by_code().replaced_by) == (
        Standing.REPLACED,
        later.title,
    )
    issue.withdraw(db, machinist, certificate, "Another head was on the bench.")
    assert (answer_by_code().standing, answer_by_code().replaced_by) == (
        Standing.WITHDRAWN,
        later.title,
    )
    assert answer_by_code().withdrawn_by == "Odile Marsh"
    assert verification.of_code(db, certificate.number, later.code).standing is Standing.CURRENT


@pytest.mark.parametrize(
    "code", ["", "0000-0000-0000-0000", "FC", "\x00", "日本", "g" * 16, "0" * 9999]
)
def test_a_wrong_code_and_an_unknown_number_are_told_the_same(
    db: Session, certificate: Certificate, code: str
):
    for number in (certificate.number, "FC-2026-0999", "", "\x00", "9" * 999):
        assert verification.of_code(db, number, code) == verification.UNKNOWN
    assert verification.of_code(db, "FC-2026-0999", certificate.code) == verification.UNKNOWN


def test_a_paper_that_was_sent_is_known_by_its_bytes(db: Session, tmp_path: Path):
    factories.create_mailbox(db)
    store, paper = FileStore(tmp_path), b"%PDF-1.7 a hand-off sheet"
    mail = factories.queue_mail(db, store)
    mail.attachment_name, mail.attachment_sha256 = "hand-off-A.pdf", store.put(paper)
    db.flush()
    assert verification.of_bytes(db, paper) is verification.UNKNOWN
    mail.handed_over_at = factories.NOW
    db.flush()
    answer = verification.of_bytes(db, paper)
    assert (answer.standing, answer.title) == (Standing.GENUINE, "hand-off-A.pdf")
    assert (answer.exact, answer.left_at) == (True, factories.NOW)


def test_the_code_is_the_one_printed(db: Session, certificate: Certificate):

    assert certificate.code == from_plain(FlowCertificate, certificate.snapshot).verification_code


def test_the_scan_code_leads_to_the_page_where_there_is_an_address(
    db: Session, machinist: Actor, certificate: Certificate
):
    assert (certificate.snapshot["url"], certificate.snapshot["verify_at"]) == ("", "")
    factories.shop_or_none(db).web_address = "https://shop.test"
    rows = [link.session for link in certificate.sessions]
    later = factories.issue_certificate(db, machinist, rows)
    address = f"https://shop.test/verify/{later.number}?code={later.code}"
    assert (later.snapshot["url"], later.snapshot["verify_at"]) == (
        address,
        "https://shop.test/verify",
    )
