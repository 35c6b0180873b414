"""Documents a shop with a key hands out: each signed, with the key printed on it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import issuing, signing
from shopflow.models import Invoice, Job
from shopflow.services.actor import Actor
from shopflow.services.billing import deposit_invoices
from shopflow.services.counter import inspection_reports
from shopflow.services.routing import operations
from tests import factories

Sign = signing.Signer | None

KINDS: dict[str, Callable[[Session, Actor, Job, Sign], bytes]] = {
    "quote": lambda db, by, job, sign: issuing.give_quote(db, by, job, {}, sign).pdf,
    "invoice": lambda db, by, job, sign: _invoice(db, by, job, sign).pdf,
    "credit note": lambda db, by, job, sign: (
        issuing.issue_credit_note(db, by, _invoice(db, by, job, sign), "a slip", None, sign).pdf
    ),
    "deposit invoice": lambda db, by, job, sign: _deposit_invoice(db, by, job, sign),
    "hand-off sheet": lambda db, by, job, sign: issuing.hand_off(db, job.heads, sign),
    "inspection report": lambda db, by, job, sign: _inspection_report(db, by, job, sign),
}


def _invoice(db: Session, by: Actor, job: Job, sign: Sign) -> Invoice:
    factories.approve(db, by, job)
    for step in job.heads[0].operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return issuing.issue_invoice(db, by, job, None, sign)


def _deposit_invoice(db: Session, by: Actor, job: Job, sign: Sign) -> bytes:
    values = {**deposit_invoices.suggested(db, job), "amount": "50"}
    return issuing.issue_deposit_invoice(db, by, job, values, sign).pdf


def _inspection_report(db: Session, by: Actor, job: Job, sign: Sign) -> bytes:
    step = factories.create_operation(db, job.heads[0], "crack-check")
    factories.record_crack(db, by, step)
    return issuing.inspection_report(db, inspection_reports.inspection_report(db, job), sign)


@pytest.fixture
def job(db: Session, machinist: Actor) -> Job:
    """A job of one head with a step and a hand-off note, in a shop with an address."""
    factories.create_shop(db, web_address="https://halvane.test", tax_rate_percent="8.25")
    visit = factories.create_visit(db)
    factories.create_operation(db, visit)
    factories.write_hand_off(db, machinist, visit)
    return visit.job


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_signed_and_prints_the_key(
    db: Session, machinist: Actor, job: Job, tmp_path: Path, kind: str
) -> None:
    signing.make_key(tmp_path, "Halvane Cylinder Heads", datetime.now(UTC))
    sign = signing.signer(tmp_path)
    assert sign is not None
    pdf = KINDS[kind](db, machinist, job, sign)
    answer = signing.check(tmp_path, pdf)
    assert answer is not None
    assert answer.sound, answer.words
    with pymupdf.open(stream=pdf) as document:
        text = " ".join(" ".join(page.get_text().split()) for page in document)
    assert sign.key in text
    assert "https://halvane.test/verify" in text


@pytest.mark.parametrize("kind", ["quote", "hand-off sheet"])
def test_without_a_key_nothing_of_it_is_printed(
    db: Session, machinist: Actor, job: Job, kind: str
) -> None:
    pdf = KINDS[kind](db, machinist, job, None)
    assert b"/ByteRange" not in pdf
    with pymupdf.open(stream=pdf) as document:
        assert "signed with the shop's key" not in "".join(page.get_text() for page in document)
