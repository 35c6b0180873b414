"""Quotes: frozen when given, revised, extras apart, approved."""

from __future__ import annotations

import hashlib
from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.documents.quote import Quote as QuotePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import Job, JobState
from shopflow.services.actor import Actor
from shopflow.services.billing import quotes
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.services.shop import house_style
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused


@pytest.fixture
def job(db: Session) -> Job:
    """A job with two operations, 100.00 and 50.05, at 8.25 % tax."""
    factories.create_shop(db, tax_rate_percent="8.25")
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, "teardown", price="100.00")
    factories.create_operation(db, visit, "seat-cut", price="50.05")
    return visit.job


def contents_of(quote) -> QuotePaper:
    """Contents of a quote."""
    return from_plain(QuotePaper, quote.snapshot)


def test_a_quote_is_frozen_as_given(db: Session, machinist: Actor, job: Job):
    quote = issuing.give_quote(
        db, machinist, job, {"deposit": "75", "conditions": "Heads as they are."}
    )
    assert quote.title == "Q-2026-0001"
    # 150.05 at 8.25 %: 12.379125, so 12.38.
    assert quote.total == Decimal("162.43")
    assert quote.valid_until == date(2026, 4, 4)
    assert hashlib.sha256(quote.pdf).hexdigest() == quote.sha256
    assert job.state is JobState.QUOTED
    assert (last_entry(db, quote).verb, last_entry(db, quote).note) == ("given", "Q-2026-0001")
    content = contents_of(quote)
    assert [line.price for line in content.lines] == [Decimal("100.00"), Decimal("50.05")]
    assert (content.deposit, content.extras) == (Decimal(75), ())
    operations.change(db, machinist, job.heads[0].operations[0], {"price": "999"})
    db.flush()
    assert quote.total == Decimal("162.43")
    quote.total = Decimal(1)
    with refused("cannot be changed"):
        db.flush()


def test_it_is_neither_changed_nor_deleted(db: Session, machinist: Actor, job: Job):
    quote = issuing.give_quote(db, machinist, job, {})
    db.delete(quote)
    with refused("cannot be changed"):
        db.flush()


def test_extra_work_is_shown_apart_and_not_cut_before_its_approval(
    db: Session, machinist: Actor, job: Job
):
    first = issuing.give_quote(db, machinist, job, {})
    assert quotes.awaiting(db, job) is first
    quotes.approve(db, machinist, first, "Mara Oslund", "telephone")
    assert quotes.awaiting(db, job) is None
    assert (job.approved_by, job.state) == ("Mara Oslund", JobState.APPROVED)
    extra = factories.create_operation(db, job.heads[0], "port-work", price="10.00")
    second = issuing.give_quote(db, machinist, job, {})
    assert second.title == "Q-2026-0001 revision 2"
    content = contents_of(second)
    assert [line.what for line in content.extras] == [extra.kind.name]
    assert len(content.lines) == 2
    assert content.agreed.startswith("Q-2026-0001, by Mara Oslund, telephone")
    assert second.total == Decimal("173.25")  # 160.05 * 1.0825 = 173.254125
    with refused("extra work"):
        operations.start(db, machinist, extra)
    with refused("replaced by a later"):
        quotes.approve(db, machinist, first, "Mara Oslund", "e-mail")
    quotes.approve(db, machinist, second, "Mara Oslund", "e-mail")
    operations.start(db, machinist, extra)
    with refused("approved already"):
        quotes.approve(db, machinist, second, "Mara Oslund", "e-mail")


def test_a_draft_takes_no_number_and_keeps_nothing(db: Session, machinist: Actor, job: Job):
    draft = quotes.prepare(db, machinist, job, {}, draft=True)
    assert draft.draft
    assert quotes.of_job(db, job) == []
    assert issuing.give_quote(db, machinist, job, {}).title == "Q-2026-0001"


@pytest.mark.parametrize(
    ("customer", "tax", "exemption"),
    [
        ({}, "8.26", ""),  # 100.07 at 8.25 % is 8.255775
        ({"tax_rate_percent": "19"}, "19.01", ""),
        ({"tax_exemption": "resale certificate 88"}, "0.00", "resale certificate 88"),
        ({"tax_rate_percent": "0", "tax_exemption": "abroad"}, "0.00", "abroad"),
    ],
)
def test_the_customers_own_rate_or_exemption_counts(
    db: Session, machinist: Actor, customer: dict[str, str], tax: str, exemption: str
):
    factories.create_shop(db, tax_rate_percent="8.25")
    house_style.change(db, machinist, house_style.the_style(db), {"tax_label": "Sales tax"})
    visit = factories.create_visit(db, customer=factories.create_customer(db, **customer))
    factories.create_operation(db, visit, price="100.07")
    answer = quotes.prepare(db, machinist, visit.job, {}, draft=True).tax
    assert (str(answer.tax), answer.exemption, answer.label) == (tax, exemption, "Sales tax")


def test_what_cannot_be_is_refused(db: Session, machinist: Actor, job: Job):
    for field, value in (("valid_until", "2026-03-04"), ("valid_until", ""), ("deposit", "-1")):
        with faults_at(field):
            issuing.give_quote(db, machinist, job, {field: value})
    quote = issuing.give_quote(db, machinist, job, {})
    with faults_at("approved_by", "approved_how"):
        quotes.approve(db, machinist, quote, " ", "")
    jobs.cancel(db, machinist, job, "sold the car")
    with refused("cancelled"):
        issuing.give_quote(db, machinist, job, {})


def test_nothing_is_quoted_where_no_work_is_planned(db: Session, machinist: Actor):
    with refused("no work is planned"):
        issuing.give_quote(db, machinist, factories.create_job(db), {})
