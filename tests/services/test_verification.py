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
def made(db: Session, machinist: Actor) -> Certificate:
    """An issued certificate."""
    return factories.issue_certificate(db, machinist, [factories.create_session(db)])


def test_code_and_bytes_tell_the_same_standing(db: Session, machinist: Actor, made: Certificate):
    def told() -> verification.Answer:
        by_code = verification.of_code(db, made.number, made.code)
        assert not by_code.exact
        assert replace(by_code, exact=True) == verification.of_pdf(db, made.pdf)
        return by_code

    assert told().standing is Standing.CURRENT
    rows = [link.session for link in made.sessions]
    later = factories.issue_certificate(db, machinist, rows, made, reason="Serial mistyped.")
    assert (told().standing, told().replaced_by) == (Standing.REPLACED, later.title)
    issue.withdraw(db, machinist, made, "Another head was on the bench.")
    assert (told().standing, told().replaced_by) == (Standing.WITHDRAWN, later.title)
    assert told().withdrawn_by == "Odile Marsh"
    assert verification.of_code(db, made.number, later.code).standing is Standing.CURRENT


@pytest.mark.parametrize(
    "code", ["", "0000-0000-0000-0000", "FC", "\x00", "日本", "g" * 16, "0" * 9999]
)
def test_a_wrong_code_and_an_unknown_number_are_told_the_same(
    db: Session, made: Certificate, code: str
):
    for number in (made.number, "FC-2026-0999", "", "\x00", "9" * 999):
        assert verification.of_code(db, number, code) == verification.UNKNOWN
    assert verification.of_code(db, "FC-2026-0999", made.code) == verification.UNKNOWN


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


def test_the_code_is_the_one_printed(db: Session, made: Certificate):

    assert made.code == from_plain(FlowCertificate, made.snapshot).verification_code


def test_the_scan_code_leads_to_the_page_where_there_is_an_address(
    db: Session, machinist: Actor, made: Certificate
):
    assert (made.snapshot["url"], made.snapshot["verify_at"]) == ("", "")
    factories.shop_or_none(db).web_address = "https://shop.test"
    rows = [link.session for link in made.sessions]
    later = factories.issue_certificate(db, machinist, rows)
    address = f"https://shop.test/verify/{later.number}?code={later.code}"
    assert (later.snapshot["url"], later.snapshot["verify_at"]) == (
        address,
        "https://shop.test/verify",
    )
