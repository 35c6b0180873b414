"""The ledger: each figure against SQL by hand, and its plain-text file read by another program."""

from __future__ import annotations

import csv
import io
import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from beancount import loader
from beancount.core import data
from sqlalchemy import delete, select, text, update
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import (
    AccountRole,
    EntryKind,
    Job,
    LedgerEntry,
    LineKind,
    Posting,
    TaxClass,
    Visit,
)
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    balances,
    bookkeeping,
    credits,
    job_lines,
    ledger,
    payments,
    plain_ledger,
    receivables,
    reminders,
    unsettled,
)
from shopflow.services.planning import reports
from shopflow.services.routing import operations
from shopflow.services.shop.periods import Period
from shopflow.spreadsheet import csv_text
from tests import factories
from tests.factories import NOW
from tests.optional import present
from tests.services.expecting import faults_at, refused

CHICAGO = ZoneInfo("America/Chicago")
MARCH = Period(date(2026, 3, 1), date(2026, 3, 31), CHICAGO)
YEAR = Period(date(2026, 1, 1), date(2026, 12, 31), CHICAGO)


@pytest.fixture(autouse=True)
def shop(db: Session) -> None:
    """A shop with two rates of tax."""
    factories.create_shop(db, tax_rate_percent="8.25", reduced_tax_rate_percent="4")


def later(by: Actor, days: int) -> Actor:
    return replace(by, at=NOW + timedelta(days=days))


def done_job(db: Session, customer: str = "Orla Finch") -> Job:
    """A job with work of 100.00, valves of 80.00 at the reduced rate and freight of 12.50."""
    visit: Visit = factories.create_visit(db, customer=factories.create_customer(db, name=customer))
    factories.create_operation(db, visit, price="100.00")
    by = factories.someone(db)
    valves = {"description": "Valves", "quantity": "8", "unit_price": "10.00",
              "tax_class": TaxClass.REDUCED.value, "head": visit.tag}  # fmt: skip
    job_lines.add(db, by, visit.job, LineKind.PART, valves)
    freight = {"description": "Crate", "unit_price": "12.50", "tax_class": TaxClass.EXEMPT.value}
    job_lines.add(db, by, visit.job, LineKind.FREIGHT, freight)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return visit.job


def cents(db: Session, query: str) -> Decimal:
    """A sum that SQL gives past the program."""
    return Decimal(int(db.scalar(text(query)) or 0)) / 100


def test_an_invoice_is_posted_by_what_was_sold_and_by_rate(db: Session, machinist: Actor):
    job = done_job(db)
    invoice = issuing.issue_invoice(db, machinist, job)
    entry = db.scalars(select(LedgerEntry)).one()
    # 8.25 + 3.20 of tax by hand; freight is exempt.
    assert (entry.kind, entry.amount, entry.number) == (EntryKind.INVOICE, Decimal("203.95"), 1)
    assert (entry.invoice, entry.on) == (invoice, date(2026, 3, 5))
    assert {row.account: row.amount for row in entry.postings} == {
        "receivables": Decimal("203.95"),
        "sales: work": Decimal("-100.00"),
        "sales: part": Decimal("-80.00"),
        "sales: freight": Decimal("-12.50"),
        "tax: S 8.25": Decimal("-8.25"),
        "tax: S 4": Decimal("-3.20"),
        "tax: E 0": Decimal("0.00"),
    }
    line = next(line for line in credits.open_lines(invoice) if line.left == 80)
    issuing.issue_credit_note(db, later(machinist, 1), invoice, "bent", {line.name: "40.00"})
    note = db.scalars(select(LedgerEntry).where(LedgerEntry.number == 2)).one()
    assert {row.account: row.amount for row in note.postings} == {
        "receivables": Decimal("-41.60"),
        "sales: part": Decimal("40.00"),
        "tax: S 4": Decimal("1.60"),
    }
    assert not sum(row.amount for row in note.postings)


def test_money_is_posted_by_how_it_was_paid(db: Session, machinist: Actor):
    job = done_job(db)
    given = {"amount": "50.00", "method": "Cash ", "is_deposit": True}
    payments.record(db, machinist, job, given)
    payments.record(db, later(machinist, 1), job, {"amount": "-20.00", "method": "cash"})
    rows = db.scalars(select(LedgerEntry).order_by(LedgerEntry.number)).all()
    assert [(row.kind, row.amount) for row in rows] == [
        (EntryKind.DEPOSIT, Decimal("-50.00")),
        (EntryKind.REFUND, Decimal("20.00")),
    ]
    assert [(total.account.key, total.debit, total.credit) for total in
            bookkeeping.totals(db, MARCH)] == [
        ("receivables", Decimal("20.00"), Decimal("50.00")),
        ("money received: cash", Decimal("50.00"), Decimal("20.00")),
    ]  # fmt: skip
    assert ledger.balance_of_customer(db, job.customer) == Decimal("-30.00")
    (day, refund) = reports.takings_by_day(db, MARCH)
    assert (day.amount, refund.amount) == (Decimal("50.00"), Decimal("-20.00"))


def test_the_ledger_is_only_added_to(db: Session, machinist: Actor):
    payments.record(db, machinist, done_job(db), {"amount": "5.00", "method": "cash"})
    entry = db.scalars(select(LedgerEntry)).one()
    for statement in (
        update(LedgerEntry).values(amount=Decimal(-1)),
        delete(Posting),
        update(Posting).values(amount=Decimal(1)),
        delete(LedgerEntry),
    ):
        with pytest.raises(DBAPIError, match="only appended to"), db.begin_nested():
            db.execute(statement)
    entry.amount = Decimal(-6)
    with refused("cannot be changed"), db.begin_nested():
        db.flush()


@pytest.fixture
def busy(db: Session, machinist: Actor) -> list[Job]:
    """Jobs of four customers with random invoices, credits, payments and refunds."""
    rng = random.Random(182)
    jobs = [done_job(db, name) for name in ("Ada", 'Bo "B" Ray', "Cy\\Dee", "Eve") * 2]
    for number, job in enumerate(jobs):
        by = later(machinist, number * 9)
        if rng.random() < 0.5:
            values = {"amount": "25.00", "method": "card", "is_deposit": True}
            payments.record(db, by, job, values)
        invoice = issuing.issue_invoice(db, by, job)
        if rng.random() < 0.5:
            line, *_ = credits.open_lines(invoice)
            issuing.issue_credit_note(db, by, invoice, "a slip", {line.name: "12.50"})
        left = balances.of_job(db, job).balance
        amount = min(Decimal(rng.randrange(100, 30000)) / 100, left)
        method = rng.choice(("cash", "Card", "bank transfer"))
        payments.record(db, later(by, 0), job, {"amount": amount, "method": method})
    db.flush()
    return jobs


def test_every_figure_is_that_of_the_documents_in_sql(db: Session, busy: list[Job]):
    signed = "sum(CASE WHEN kind = 'invoice' THEN {0} ELSE -{0} END)"
    invoiced = cents(db, f"SELECT {signed.format('total')} FROM invoice")
    paid = cents(db, "SELECT sum(amount) FROM payment")
    sums = {row.account.key: row for row in bookkeeping.totals(db, YEAR)}
    assert sums["receivables"].after == invoiced - paid
    assert sum((row.after for row in sums.values()), Decimal(0)) == 0
    assert sum(row.debit - row.credit for row in sums.values()) == 0
    money = sum((row.after for key, row in sums.items() if key.startswith("money")), Decimal(0))
    assert money == paid
    taxed = sum((row.after for key, row in sums.items() if key.startswith("tax")), Decimal(0))
    assert -taxed == cents(db, f"SELECT {signed.format('tax')} FROM invoice")
    months = reports.tax_by_month(db, YEAR)
    assert sum((row.tax for row in months), Decimal(0)) == -taxed
    sales = sum((row.after for key, row in sums.items() if key.startswith("sales")), Decimal(0))
    assert -sales == invoiced + taxed
    assert sum((row.net for row in months), Decimal(0)) == -sales
    # Each rate is the rate of its base, to half a cent for each of the documents.
    for row in months:
        rate = Decimal(row.name.split()[1]) if "%" in row.name else Decimal(0)
        assert abs(row.tax - row.net * rate / 100) <= Decimal("0.005") * 16
    takings = sum((row.amount for row in reports.takings_by_day(db, YEAR)), Decimal(0))
    assert takings == paid
    for job in busy:
        key = f"job_id = {job.id}"
        owed = cents(db, f"SELECT {signed.format('total')} FROM invoice WHERE {key}") - cents(
            db, f"SELECT sum(amount) FROM payment WHERE {key}"
        )
        assert balances.of_job(db, job).balance == owed
        assert unsettled.of_jobs(db, [job.id])[job.id].owes == (owed > 0)
    by_customer = {job.customer.id: job.customer for job in busy}
    total = sum((ledger.balance_of_customer(db, row) for row in by_customer.values()), Decimal(0))
    assert total == invoiced - paid
    numbers = db.scalars(select(LedgerEntry.number).order_by(LedgerEntry.number)).all()
    assert list(numbers) == list(range(1, len(numbers) + 1))


def test_a_period_begins_with_what_was_before(db: Session, busy: list[Job]):
    months = [
        Period(date(2026, 3, 1), date(2026, 3, 31), CHICAGO),
        Period(date(2026, 4, 1), date(2026, 12, 31), CHICAGO),
    ]
    first, rest = (
        {row.account.key: row for row in bookkeeping.totals(db, each)} for each in months
    )
    for key, row in rest.items():
        assert row.before == (first[key].after if key in first else 0)


def test_the_file_has_the_shops_own_accounts_and_columns(db: Session, machinist: Actor):
    job = done_job(db, "=Orla")
    issuing.issue_invoice(db, machinist, job)
    payments.record(db, machinist, job, {"amount": "203.95", "method": "card"})
    codes = {"receivables": ("1200", "Debtors"), "money received: card": ("1010", "")}
    bookkeeping.name_accounts(db, machinist, codes)
    with faults_at("columns"):
        bookkeeping.choose_columns(db, machinist, "account = Konto\nprice = Preis")
    with faults_at("columns"):
        bookkeeping.choose_columns(db, machinist, " ")
    bookkeeping.choose_columns(db, machinist, "date = Datum\naccount = Konto\namount\ncustomer")
    rows = list(csv.reader(io.StringIO(csv_text(*bookkeeping.file_rows(db, MARCH)))))
    assert rows[0] == ["Datum", "Konto", "amount", "customer"]
    assert rows[1] == ["2026-03-05", "1200", "203.95", "'=Orla"]
    assert ["2026-03-05", "1010", "203.95", "'=Orla"] in rows
    assert sum(Decimal(row[2]) for row in rows[1:]) == 0
    bookkeeping.name_accounts(db, machinist, {"receivables": ("1210", "Debtors")})
    assert bookkeeping.accounts(db)[0].code == "1210"


@pytest.mark.source("Beancount 3, its loader")
def test_another_program_reads_the_plain_text_and_agrees(db: Session, busy: list[Job]):
    april = Period(date(2026, 3, 20), date(2026, 4, 20), CHICAGO)
    for period in (YEAR, april):
        entries, errors, options = loader.load_string(plain_ledger.written(db, period))
        assert not errors
        assert options["operating_currency"] == ["USD"]
        read: dict[str, Decimal] = {}
        transactions = [entry for entry in entries if isinstance(entry, data.Transaction)]
        for entry in transactions:
            for posting in entry.postings:
                amount = present(present(posting.units).number)
                read[posting.account] = read.get(posting.account, Decimal(0)) + amount
        expected = bookkeeping.totals(db, period)
        assert sorted(read.values()) == sorted(row.after for row in expected)
        receivable = next(row for row in expected if row.account.role is AccountRole.RECEIVABLE)
        assert read["Assets:Receivables"] == receivable.after
        booked = [entry for entry in transactions if "entry" in entry.meta]
        assert len(booked) == len(bookkeeping.entries(db, period))
        checked = [entry for entry in entries if isinstance(entry, data.Balance)]
        assert len(checked) == len(expected)
    names = {entry.payee for entry in booked}
    assert names <= {"Ada", 'Bo "B" Ray', "Cy\\Dee", "Eve"}


def test_a_balance_that_is_wrong_is_told_by_the_other_program(db: Session, busy: list[Job]):
    text_ = plain_ledger.written(db, YEAR)
    line = next(line for line in text_.splitlines() if " balance Assets:Receivables " in line)
    _, errors, _ = loader.load_string(text_.replace(line, line.replace(".", "1.", 1)))
    assert len(errors) == 1


def test_reminders_are_due_by_stage_and_noted_when_sent(db: Session, machinist: Actor):
    job = done_job(db)
    invoice = issuing.issue_invoice(db, machinist, job)
    assert invoice.due_on is not None
    reminders.add_usual(db, machinist)
    assert reminders.add_usual(db, machinist) == []
    assert [row.days_overdue for row in reminders.stages(db)] == [7, 21, 42]
    with faults_at("days_overdue"):
        reminders.add(db, machinist, {"days_overdue": 7, "subject": "Again"})
    with faults_at("days_overdue", "subject"):
        reminders.add(db, machinist, {})

    def due_after(days: int) -> str:
        assert invoice.due_on is not None
        owed = receivables.on_day(db, invoice.due_on + timedelta(days=days))
        row = reminders.due(db, owed.debtors).get(job.customer.id)
        return row.stage.subject if row else ""

    assert [due_after(days) for days in (6, 7, 20, 21, 50)] == [
        "", "Friendly reminder", "Friendly reminder", "Second reminder", "Last reminder",
    ]  # fmt: skip
    owed = receivables.on_day(db, invoice.due_on + timedelta(days=8))
    row = reminders.due(db, owed.debtors)[job.customer.id]
    subject, body = reminders.words(db, job.customer, row, "Ruth")
    assert subject == "Friendly reminder"
    assert f"Invoice {invoice.number}" in body
    assert "$203.95" in body
    assert body.endswith("Ruth")
    first = reminders.stages(db)[0]
    reminders.change(db, machinist, first, {"days_overdue": 10, "subject": "Note", "body": ""})
    assert due_after(9) == ""
    reminders.remove(db, machinist, first)
    assert due_after(20) == ""
