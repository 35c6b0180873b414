"""Unpaid invoices by age, and the statement of an account: against SQL, balances and each other."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import Job
from shopflow.services.actor import Actor
from shopflow.services.billing import balances, credits, payments, receivables, statements
from shopflow.services.routing import operations
from tests import factories
from tests.factories import NOW

CASH = {"method": "cash"}


@pytest.fixture(autouse=True)
def shop(db: Session) -> None:
    factories.create_shop(db, tax_rate_percent="8.25")


def done_job(db: Session, prices: tuple[str, ...] = ("100.00", "50.05"), customer: str = "") -> Job:
    """A job whose steps are approved and done."""
    own = factories.create_customer(db, name=customer) if customer else None
    visit = factories.create_visit(db, customer=own) if own else factories.create_visit(db)
    for price in prices:
        factories.create_operation(db, visit, price=price)
    by = factories.someone(db)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return visit.job


def later(by: Actor, days: int) -> Actor:
    return replace(by, at=NOW + timedelta(days=days))


def test_an_invoice_ages_by_the_days_since_it_was_due(db: Session, machinist: Actor) -> None:
    invoice = issuing.issue_invoice(db, machinist, done_job(db))
    due = invoice.due_on
    assert due is not None
    expected = {0: 0, 1: 1, 30: 1, 31: 2, 60: 2, 61: 3, 90: 3, 91: 4, -14: 0}
    for days, group in expected.items():
        (row,) = receivables.on_day(db, due + timedelta(days=days)).invoices
        assert (row.days_overdue, row.age, row.open) == (days, group, Decimal("162.43"))


def test_payments_settle_the_oldest_invoice_of_a_job_first(db: Session, machinist: Actor) -> None:
    job = done_job(db, ("100.00", "200.00"))
    steps = [row.id for row in job.heads[0].operations]
    first = issuing.issue_invoice(db, machinist, job, steps[:1])
    second = issuing.issue_invoice(db, later(machinist, 9), job, steps[1:])
    payments.record(db, machinist, job, {"amount": "150.00", **CASH})
    (row,) = receivables.on_day(db, date(2030, 1, 1)).invoices
    # 108.25 of the first, and 41.75 of the second's 216.50.
    assert (row.invoice, row.open) == (second, Decimal("174.75"))
    assert first.balance == Decimal("108.25")


def test_credit_notes_and_refunds_count(db: Session, machinist: Actor) -> None:
    job = done_job(db)
    invoice = issuing.issue_invoice(db, machinist, job)
    payments.record(db, machinist, job, {"amount": invoice.total, **CASH})
    assert not receivables.on_day(db, date(2030, 1, 1)).debtors
    payments.record(db, machinist, job, {"amount": "-20.00", **CASH})
    (row,) = receivables.on_day(db, date(2030, 1, 1)).invoices
    assert row.open == Decimal("20.00")
    line, _ = credits.open_lines(invoice)
    issuing.issue_credit_note(db, machinist, invoice, "late", {line.name: "20.00"})
    assert not receivables.on_day(db, date(2030, 1, 1)).debtors


def test_jobs_not_invoiced_or_paid_in_advance_owe_nothing(db: Session, machinist: Actor) -> None:
    done_job(db)
    paid = done_job(db, customer="Cal Osgood")
    payments.record(db, machinist, paid, {"amount": "10.00", "is_deposit": True, **CASH})
    assert not receivables.on_day(db, date(2030, 1, 1)).debtors


def test_whatever_happens_the_sums_are_those_of_the_database(db: Session, machinist: Actor) -> None:
    """Random invoices, credits and payments of four customers."""
    rng = random.Random(18)
    jobs = [done_job(db, ("80.00", "35.50"), name) for name in ("Ada", "Bo", "Cy", "Dee") * 2]
    for number, job in enumerate(jobs):
        by = later(machinist, number * 7)
        invoice = issuing.issue_invoice(db, by, job)
        if rng.random() < 0.5:
            line, *_ = credits.open_lines(invoice)
            issuing.issue_credit_note(db, by, invoice, "a slip", {line.name: "12.50"})
        amount = Decimal(rng.randrange(1, 12000)) / 100
        left = balances.of_job(db, job).balance
        payments.record(db, by, job, {"amount": min(amount, left), **CASH})
    db.flush()
    query = text(
        "SELECT sum(open) FROM (SELECT (SELECT coalesce(sum(CASE WHEN kind = 'invoice' THEN total "
        "ELSE -total END), 0) FROM invoice i WHERE i.job_id = j.id) - (SELECT coalesce("
        "sum(amount), 0) FROM payment p WHERE p.job_id = j.id) AS open FROM job j) AS every "
        "WHERE open > 0"
    )
    owed = receivables.on_day(db, date(2026, 6, 1))
    # Amounts are stored in cents.
    wanted = Decimal(int(db.scalar(query) or 0)) / 100
    assert owed.open == wanted
    assert sum((amount for _, amount, _ in owed.by_age), Decimal(0)) == wanted
    assert sum(number for *_, number in owed.by_age) == len(owed.invoices)
    for debtor in owed.debtors:
        mine = [job for job in jobs if job.customer is debtor.customer]
        assert debtor.open == sum((balances.of_job(db, job).balance for job in mine), Decimal(0))
        content = statements.statement(db, debtor.customer, NOW + timedelta(days=90))
        assert content.balance == debtor.open
        assert sum((entry.amount for entry in content.entries), Decimal(0)) == content.balance
        assert sum((item.open for item in content.open_items), Decimal(0)) == content.balance
    alone = receivables.on_day(db, date(2026, 6, 1), owed.debtors[0].customer)
    assert alone.open == owed.debtors[0].open


def test_a_statement_lists_everything_in_order(db: Session, machinist: Actor) -> None:
    job = done_job(db)
    payments.record(db, machinist, job, {"amount": "50.00", "is_deposit": True, **CASH})
    invoice = issuing.issue_invoice(db, later(machinist, 3), job)
    payments.record(db, later(machinist, 3), job, {"amount": "12.43", **CASH})
    content = statements.statement(db, job.customer, NOW + timedelta(days=40))
    rows = [(entry.what, entry.amount, entry.balance) for entry in content.entries]
    assert rows == [
        ("Deposit, cash", Decimal("-50.00"), Decimal("-50.00")),
        (f"Invoice {invoice.number}", Decimal("162.43"), Decimal("112.43")),
        ("Payment, cash", Decimal("-12.43"), Decimal("100.00")),
    ]
    (item,) = content.open_items
    assert (item.open, item.days_overdue) == (Decimal("100.00"), 23)
