"""A customer's language: their documents and mail are in it, whatever the shop reads."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import issuing, papers, texts
from shopflow.documents import FlowCertificate
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import Job
from shopflow.services.actor import Actor
from shopflow.services.billing import credits, payment_receipts, payments, quotes
from shopflow.services.certificates import verification
from shopflow.services.certificates.verification import Standing
from shopflow.services.hand_off import sheets
from shopflow.services.paperwork import bench_cards
from shopflow.services.registry import customers
from shopflow.services.routing import operations, work_orders
from shopflow.services.shop import house_style, settings
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.services.expecting import faults_at

MARCH = Actor(None, datetime(2026, 3, 5, 18, tzinfo=UTC))
TIGHT = INTAKE_US.replace("1.732 in", "0.9 in").replace("1.530 in", "0.8 in")
"""A test that passes more than the ideal."""

US_SHOP = {"language": "en_US", "time_zone": "America/Chicago", "tax_rate_percent": "8.25"}


def text_of(pdf: bytes) -> str:
    """The words of every page, by MuPDF."""
    with pymupdf.open(stream=pdf) as document:
        return " ".join(" ".join(page.get_text() for page in document).split())


@pytest.fixture
def by(db: Session) -> Actor:
    """Someone in March, of a US shop whose documents have the month first."""
    factories.create_shop(db, **US_SHOP)
    house_style.change(db, factories.BY, house_style.the_style(db), {"date_format": "mdy"})
    return Actor(factories.someone(db).person, MARCH.at)


def job_of(db: Session, by: Actor, language: str) -> Job:
    """A priced, done and approved job of a customer who reads a language."""
    customer = factories.create_customer(db, language=language)
    job = factories.create_job(db, customer, by=by)
    factories.create_operation(db, job.heads[0], price="100.00")
    factories.approve(db, by, job)
    for step in job.heads[0].operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return job


def quote(db: Session, by: Actor, job: Job) -> bytes:
    values = issuing.give_quote(db, by, job, {})
    quotes.approve(db, by, values, "Cal Pruitt", "telephone")
    return values.pdf


def invoice(db: Session, by: Actor, job: Job) -> bytes:
    deposit = {
        "amount": "200.00",
        "method": "cash",
        "received_on": "2026-03-05",
        "overpayment_meant": True,
    }
    payments.record(db, by, job, deposit)
    return issuing.issue_invoice(db, by, job).pdf


def credit_note(db: Session, by: Actor, job: Job) -> bytes:
    row = issuing.issue_invoice(db, by, job)
    return issuing.issue_credit_note(db, by, row, "charged twice").pdf


def receipt(db: Session, by: Actor, job: Job) -> bytes:
    deposit = {
        "amount": "200.00",
        "method": "cash",
        "received_on": "2026-03-05",
        "overpayment_meant": True,
    }
    row = payments.record(db, by, job, deposit)
    return papers.receipt(payment_receipts.receipt(db, row))


def certificate(db: Session, by: Actor, job: Job) -> bytes:
    row = factories.create_session(db, job.heads[0])
    return factories.issue_certificate(db, by, [row]).pdf


def hand_off(db: Session, by: Actor, job: Job) -> bytes:
    factories.write_hand_off(db, by, job.heads[0])
    return papers.hand_off(sheets.hand_off(db, job.heads[0]))


DOCUMENTS: list[tuple[Callable[[Session, Actor, Job], bytes], tuple[str, str]]] = [
    (quote, ("", "")),
    (invoice, ("Balance in your favor", "Balance in your favour")),
    (credit_note, ("", "")),
    (receipt, ("In your favor, this counted in", "In your favour, this counted in")),
    (certificate, ("Authorized by", "Authorised by")),
    (hand_off, ("", "")),
]


@pytest.mark.parametrize(
    ("document", "words"), DOCUMENTS, ids=[document.__name__ for document, _ in DOCUMENTS]
)
def test_a_british_customer_of_a_us_shop_reads_british_documents(
    db: Session, by: Actor, document: Callable[[Session, Actor, Job], bytes], words: tuple[str, str]
) -> None:
    american, british = words
    text = text_of(document(db, by, job_of(db, by, "en_GB")))
    assert "5 Mar 2026" in text
    assert "Mar 5, 2026" not in text
    assert british in text
    assert texts.language() == texts.SOURCE
    text = text_of(document(db, by, job_of(db, by, "")))
    assert "Mar 5, 2026" in text
    assert "5 Mar 2026" not in text
    assert american in text


def test_what_stays_in_the_shop_is_in_its_language(db: Session, by: Actor) -> None:
    job = job_of(db, by, "en_GB")
    for pdf in (
        papers.work_order(work_orders.work_order(db, job)),
        papers.bench_card(bench_cards.bench_card(db, job)),
    ):
        assert "5 Mar 2026" not in text_of(pdf)
    assert "Mar 5, 2026" in text_of(papers.work_order(work_orders.work_order(db, job)))


def test_an_iso_date_stays_for_customers_who_read_the_shops_language(
    db: Session, by: Actor
) -> None:
    house_style.change(db, by, house_style.the_style(db), {"date_format": "iso"})
    assert "2026-03-05" in text_of(quote(db, by, job_of(db, by, "en_US")))
    assert "5 Mar 2026" in text_of(quote(db, by, job_of(db, by, "en_GB")))


def test_a_certificate_prints_again_as_issued_whatever_language_comes_after(
    db: Session, by: Actor
) -> None:
    rows = [
        factories.issue_certificate(
            db, by, [factories.create_session(db, job_of(db, by, language).heads[0])]
        )
        for language in ("en_GB", "")
    ]
    settings.change(db, by, settings.get_shop(db), {"language": "en_GB"})
    for row in rows:
        customers.change(
            db, by, row.job.customer, {"language": "en_US" if row is rows[0] else "en_GB"}
        )
        content = from_plain(FlowCertificate, row.snapshot)
        with texts.spoken("en_GB"):
            assert papers.flow_certificate(content) == row.pdf
        assert content.verification_code == row.code
        assert verification.of_code(db, row.number, row.code).standing is Standing.CURRENT
        assert verification.of_pdf(db, row.pdf).exact
    british, american = (text_of(row.pdf) for row in rows)
    assert ("Authorised by" in british, "Authorized by" in american) == (True, True)


def test_documents_on_record_from_before_carry_no_language_and_keep_their_codes(
    db: Session, by: Actor
) -> None:
    row = factories.issue_certificate(
        db, by, [factories.create_session(db, job_of(db, by, "en_US").heads[0])]
    )
    assert "language" not in row.snapshot["display"]
    assert from_plain(FlowCertificate, row.snapshot).display.language == texts.SOURCE
    british = factories.issue_certificate(
        db, by, [factories.create_session(db, job_of(db, by, "en_GB").heads[0])]
    )
    assert british.snapshot["display"]["language"] == "en_GB"


def test_a_checked_draft_stands_whoever_looks_at_it(db: Session, by: Actor) -> None:
    """The doubts answered are those of the document, not of the page's language."""
    row = factories.create_session(db, job_of(db, by, "en_GB").heads[0], TIGHT)
    with texts.spoken("en_US"):
        issued = factories.issue_certificate(db, by, [row])
    (answered,) = issued.snapshot["answers"]
    assert "the least valve area is above 1" in answered["doubt"]


def test_a_credit_note_names_its_invoice_by_the_date_of_its_own_language(
    db: Session, by: Actor
) -> None:
    job = job_of(db, by, "")
    row = issuing.issue_invoice(db, by, job)
    customers.change(db, by, job.customer, {"language": "en_GB"})
    content = credits.prepare(db, by, row, "charged twice").content
    assert content.credits.endswith("5 Mar 2026")
    assert from_plain(InvoicePaper, row.snapshot).display.language == "en_US"


def test_a_language_that_is_none_is_refused(db: Session, by: Actor) -> None:
    with faults_at("language"):
        factories.create_customer(db, language="en_AU")
