"""Deposits invoiced ahead of the work: taken off the invoices that follow, never beyond them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import Invoice, Job, LineKind
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    balances,
    credits,
    deposit_invoices,
    deposits,
    job_lines,
    payments,
    receivables,
)
from shopflow.services.routing import operations
from tests import factories
from tests.services.expecting import faults_at, refused

DEPOSIT = {"amount": "100.00", "tax_class": "standard", "description": "Deposit"}


def of(invoice: Invoice) -> InvoicePaper:
    """Contents of an invoice."""
    return from_plain(InvoicePaper, invoice.snapshot)


@pytest.fixture
def job(db: Session, machinist: Actor) -> Job:
    """A job of two steps, 100.00 and 50.05, and exempt freight of 20.00, at 8.25 % tax, done."""
    factories.create_shop(db, tax_rate_percent="8.25")
    visit = factories.create_visit(db)
    for price in ("100.00", "50.05"):
        factories.create_operation(db, visit, price=price)
    freight = {"description": "Freight", "unit_price": "20.00", "tax_class": "exempt"}
    job_lines.add(db, machinist, visit.job, LineKind.FREIGHT, freight)
    factories.approve(db, machinist, visit.job)
    return visit.job


def finish(db: Session, by: Actor, job: Job) -> None:
    """Sign every step off."""
    for step in job.heads[0].operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})


def test_the_final_invoice_takes_the_deposit_off(db: Session, machinist: Actor, job: Job):
    """By hand: 150.05 at 8.25 % is 12.379, with 20.00 exempt 182.43; the deposit is 108.25."""
    before = balances.of_job(db, job)
    assert before.left == Decimal("182.43")
    deposit = issuing.issue_deposit_invoice(db, machinist, job, DEPOSIT)
    assert (deposit.total, of(deposit).kind) == (Decimal("108.25"), "Deposit invoice")
    answer = balances.of_job(db, job)
    assert (answer.balance, answer.left) == (Decimal("108.25"), Decimal("182.43"))
    payments.record(db, machinist, job, {"amount": "108.25", "method": "card"})
    finish(db, machinist, job)
    final = issuing.issue_invoice(db, machinist, job)
    # What is left of the work at 8.25 %: 50.05, of which the tax is 4.129; and the freight.
    assert (final.tax, final.total) == (Decimal("4.13"), Decimal("74.18"))
    assert deposit.tax + final.tax == Decimal("12.38")
    (*_, taken) = of(final).lines
    assert (taken.price, taken.detail) == (Decimal("-100.00"), f"invoice {deposit.number}")
    assert of(final).balance == final.total
    assert balances.of_job(db, job).left == Decimal("74.18")
    owed = receivables.on_day(db, factories.NOW.date())
    assert [(row.invoice.number, row.open) for row in owed.invoices] == [
        (final.number, Decimal("74.18"))
    ]
    with refused("settled this deposit"):
        credits.prepare(db, machinist, deposit, "called off")
    issuing.issue_credit_note(db, machinist, final, "called off")
    assert [row.open for row in deposits.of_job(db, job)] == [Decimal(100)]
    issuing.issue_credit_note(db, machinist, deposit, "called off")
    assert balances.of_job(db, job).balance == Decimal("-108.25")


def test_part_invoices_take_it_off_as_far_as_they_go(db: Session, machinist: Actor, job: Job):
    issuing.issue_deposit_invoice(db, machinist, job, DEPOSIT)
    finish(db, machinist, job)
    first, second = job.heads[0].operations
    part = issuing.issue_invoice(db, machinist, job, [second.id])
    assert part.total == 0
    assert [row.open for row in deposits.of_job(db, job)] == [Decimal("49.95")]
    rest = issuing.issue_invoice(db, machinist, job)
    # 100.00 − 49.95 = 50.05.
    assert rest.total == Decimal("50.05") + Decimal("4.13") + 20
    assert [row.open for row in deposits.of_job(db, job)] == [0]
    assert balances.of_job(db, job).left == Decimal("182.43")
    assert first.key in [line.key for line in rest.lines]


def test_a_deposit_is_never_beyond_the_work_of_its_class(db: Session, machinist: Actor, job: Job):
    with faults_at("amount"):
        deposit_invoices.prepare(db, machinist, job, {**DEPOSIT, "amount": "150.06"})
    with faults_at("amount"):
        deposit_invoices.prepare(db, machinist, job, {**DEPOSIT, "amount": "0"})
    with faults_at("amount"):
        exempt = {**DEPOSIT, "amount": "20.01", "tax_class": "exempt"}
        deposit_invoices.prepare(db, machinist, job, exempt)
    issuing.issue_deposit_invoice(db, machinist, job, DEPOSIT)
    with faults_at("amount"):
        deposit_invoices.prepare(db, machinist, job, {**DEPOSIT, "amount": "50.06"})
    (line,) = (line for line in job.lines if line.kind is LineKind.DEPOSIT)
    with refused("issue a credit note"):
        job_lines.remove(db, machinist, line)


def test_the_deposit_a_quote_asked_for_is_suggested_before_tax(
    db: Session, machinist: Actor, job: Job
):
    issuing.give_quote(db, machinist, job, {"deposit": "108.25"})
    assert deposit_invoices.suggested(db, job)["amount"] == Decimal("100.00")
