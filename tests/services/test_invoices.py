"""Invoices: exact, gapless, frozen, taken back only by a credit note; payments and balance."""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pymupdf
import pytest
from sqlalchemy import Engine, select, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from shopflow import issuing, papers
from shopflow.database import session_factory
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.snapshot import from_plain
from shopflow.errors import RuleError
from shopflow.models import Invoice, Job
from shopflow.services.actor import Actor
from shopflow.services.billing import balances, credits, invoices, payments, quotes
from shopflow.services.routing import operations
from shopflow.services.shop import house_style
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused


def create_priced_job(db: Session, *prices: str) -> Job:
    """A job of one head with operations at these prices, approved and done."""
    visit, by = factories.create_visit(db), factories.someone(db)
    for price in prices:
        factories.create_operation(db, visit, price=price)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return visit.job


def agreed(db: Session, by: Actor, job: Job) -> None:
    """Let the customer approve what was added since, by a quote."""
    quotes.approve(db, by, issuing.give_quote(db, by, job, {}), "Cal", "telephone")


@pytest.fixture
def job(db: Session) -> Job:
    """A job of 150.05 before 8.25 % tax: 162.43 with it."""
    factories.create_shop(db, tax_rate_percent="8.25")
    priced_job = create_priced_job(db, "100.00", "50.05")
    deposit = {"amount": "40.00", "method": "cash", "is_deposit": True}
    payments.record(db, factories.BY, priced_job, deposit)
    return priced_job


def contents_of(invoice: Invoice) -> InvoicePaper:
    """Contents of an invoice."""
    return from_plain(InvoicePaper, invoice.snapshot)


def test_an_invoice_says_what_is_left_to_pay(db: Session, machinist: Actor, job: Job):
    style = house_style.the_style(db)
    house_style.change(db, machinist, style, {"payment_days": "10", "payment_to": "Account 42"})
    payments.record(db, machinist, job, {"amount": "20.43", "method": "card"})
    invoice = issuing.issue_invoice(db, machinist, job)
    content = contents_of(invoice)
    assert (invoice.number, invoice.tax, invoice.total) == (
        "INV-2026-0001",
        Decimal("12.38"),
        Decimal("162.43"),
    )
    assert [item.amount for item in content.received] == [Decimal("40.00"), Decimal("20.43")]
    assert content.balance == Decimal("102.00")
    assert content.due_on is not None
    assert content.due_on.isoformat() == "2026-03-15"
    assert content.payment_to == "Account 42"
    assert hashlib.sha256(invoice.pdf).hexdigest() == invoice.sha256
    assert last_entry(db, invoice).note == "INV-2026-0001"
    assert content.received[0].what.startswith("Deposit, cash, ")
    answer = balances.of_job(db, job)
    assert (answer.invoiced, answer.received) == (Decimal("162.43"), Decimal("60.43"))
    assert answer.balance == answer.left == Decimal("102.00")


def test_work_is_invoiced_once(db: Session, machinist: Actor, job: Job):
    first = issuing.issue_invoice(db, machinist, job)
    with refused("left to invoice"):
        issuing.issue_invoice(db, machinist, job)
    later = factories.create_operation(db, job.heads[0], price="10.00")
    left_out = factories.create_operation(db, job.heads[0], price="99.00")
    operations.skip(db, machinist, left_out, "not needed")
    agreed(db, machinist, job)
    second = issuing.issue_invoice(db, machinist, job, [later.id])
    assert [line.operation_id for line in second.lines] == [later.id]
    # 40.00 taken is less than the first invoice: nothing of it is left for the second.
    assert contents_of(second).received == ()
    assert contents_of(second).balance == second.total == Decimal("10.83")
    payments.record(db, machinist, job, {"amount": "130", "method": "cash"})
    assert balances.of_job(db, job).balance == first.total + second.total - 170


def test_an_invoice_starts_with_what_is_done_and_approved_and_blocks_the_rest(
    db: Session, machinist: Actor, job: Job
):
    visit = job.heads[0]
    planned = factories.create_operation(db, visit, price="10.00")
    agreed(db, machinist, job)
    extra = factories.create_operation(db, visit, "seat-cut", price="1999.00")
    answer = balances.of_job(db, job)
    assert invoices.ready(answer) == visit.operations[:2]
    assert planned in answer.to_invoice
    assert answer.not_approved == (extra,)
    with refused("not approved by the customer: Cut seats"):
        issuing.issue_invoice(db, machinist, job, [planned.id, extra.id])
    with refused("choose at least one to invoice"):
        issuing.issue_invoice(db, machinist, job, [])
    first = issuing.issue_invoice(db, machinist, job)
    assert [line.operation_id for line in first.lines] == [step.id for step in visit.operations[:2]]
    assert len(issuing.issue_invoice(db, machinist, job, [planned.id]).lines) == 1
    with refused("has not approved this work"):
        issuing.issue_invoice(db, machinist, job)


def test_a_preview_is_marked_and_takes_no_number(db: Session, machinist: Actor, job: Job):
    content = invoices.preview(db, machinist, job)
    assert content.preview
    with pymupdf.open(stream=papers.invoice(content)) as pdf:
        text = pdf[0].get_text()
    assert "Preview, not issued" in text
    assert "INV-" not in text
    assert issuing.issue_invoice(db, machinist, job).number == "INV-2026-0001"


def test_instructions_never_print_on_what_a_customer_gets(db: Session, machinist: Actor, job: Job):
    texts = {"instructions": "charge him double", "customer_text": "Bench at 28 inches"}
    step = factories.create_operation(db, job.heads[0], price="10.00", **texts)
    operations.change(db, machinist, step, {"notes": "he will not notice"})
    quote = issuing.give_quote(db, machinist, job, {})
    quotes.approve(db, machinist, quote, "Cal", "telephone")
    invoice = issuing.issue_invoice(db, machinist, job, [step.id])
    for paper in (quote, invoice):
        with pymupdf.open(stream=paper.pdf) as pdf:
            text = " ".join(page.get_text() for page in pdf)
        assert "charge him" not in text
        assert "notice" not in text
        assert "Bench at 28 inches" in text


def test_only_a_credit_note_takes_an_invoice_back(db: Session, machinist: Actor, job: Job):
    invoice = issuing.issue_invoice(db, machinist, job)
    with faults_at("reason"):
        issuing.issue_credit_note(db, machinist, invoice, " ")
    note = issuing.issue_credit_note(db, machinist, invoice, "wrong customer")
    assert (note.number, note.total) == ("CN-2026-0001", invoice.total)
    assert contents_of(note).credits == "invoice INV-2026-0001 of 2026-03-05"
    assert contents_of(note).lines == contents_of(invoice).lines
    assert invoice.credit_notes == [note]
    assert balances.of_job(db, job).balance == -40
    with refused("credited by CN-2026-0001"):
        issuing.issue_credit_note(db, machinist, invoice, "again")
    with refused("a credit note cannot be credited"):
        issuing.issue_credit_note(db, machinist, note, "no")
    assert issuing.issue_invoice(db, machinist, job).number == "INV-2026-0002"


def test_a_part_is_taken_back_line_by_line(db: Session, machinist: Actor, job: Job):
    """By hand: 100.00 + 50.05 = 150.05, 8.25 % of it 12.379; of 10.10, 0.833."""
    invoice = issuing.issue_invoice(db, machinist, job)
    first, second = credits.open_lines(invoice)
    part = issuing.issue_credit_note(db, machinist, invoice, "one guide", {first.name: "10.10"})
    assert (part.number, part.tax, part.total) == (
        "CN-2026-0001",
        Decimal("0.83"),
        Decimal("10.93"),
    )
    assert contents_of(part).lines[0].detail == "of $100.00"
    assert contents_of(part).stands == invoice.balance == Decimal("151.50")
    assert [line.left for line in credits.open_lines(invoice)] == [Decimal("89.90"), second.left]
    assert not invoice.is_taken_back
    with refused("left to invoice"):
        issuing.issue_invoice(db, machinist, job)
    assert balances.of_job(db, job).balance == Decimal("111.50")
    rest = issuing.issue_credit_note(db, machinist, invoice, "all of it after all")
    assert (rest.total, rest.tax) == (Decimal("151.50"), Decimal("11.55"))
    assert invoice.is_taken_back
    assert invoice.balance == 0
    with refused("credited by CN-2026-0001, CN-2026-0002"):
        issuing.issue_credit_note(db, machinist, invoice, "again")


@pytest.mark.parametrize("amount", ["100.01", "-1", "1.005", "much"])
def test_no_more_than_is_left_is_taken_back(db: Session, machinist: Actor, job: Job, amount: str):
    invoice = issuing.issue_invoice(db, machinist, job)
    name = credits.open_lines(invoice)[0].name
    with faults_at(name):
        issuing.issue_credit_note(db, machinist, invoice, "why", {name: amount})
    issuing.issue_credit_note(db, machinist, invoice, "why", {name: "60"})
    with faults_at(name):
        issuing.issue_credit_note(db, machinist, invoice, "why", {name: "40.01"})
    with refused("at least one line"):
        issuing.issue_credit_note(db, machinist, invoice, "why", {name: ""})


def test_many_small_notes_never_give_back_more_tax_than_was_charged(db: Session, machinist: Actor):
    """Half a cent of tax each, rounded up: 0.06 at 8.25 % is 0.00495, 0.07 is 0.005775."""
    factories.create_shop(db, tax_rate_percent="8.25")
    invoice = issuing.issue_invoice(db, machinist, create_priced_job(db, "0.70"))
    (line,) = credits.open_lines(invoice)
    for _ in range(10):
        issuing.issue_credit_note(db, machinist, invoice, "by bits", {line.name: "0.07"})
    assert sum(note.tax for note in invoice.credit_notes) == invoice.tax == Decimal("0.06")
    assert invoice.is_taken_back


def test_an_issued_invoice_is_neither_changed_nor_deleted(db: Session, machinist: Actor, job: Job):
    invoice = issuing.issue_invoice(db, machinist, job)
    db.commit()
    invoice.total = Decimal(1)
    with refused("cannot be changed"):
        db.flush()
    db.rollback()
    db.delete(invoice)
    with refused("cannot be changed"):
        db.flush()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE invoice SET total = 1",
        "DELETE FROM invoice",
        "UPDATE invoice_line SET price = 1",
        "DELETE FROM invoice_line",
    ],
)
def test_the_database_itself_refuses_it(db: Session, machinist: Actor, job: Job, statement: str):
    issuing.issue_invoice(db, machinist, job)
    db.flush()
    with pytest.raises(DatabaseError, match="cannot be changed or deleted"), db.begin_nested():
        db.execute(text(statement))


def test_nobody_in_particular_issues_none(db: Session, by: Actor, job: Job):
    with refused("by a person"):
        issuing.issue_invoice(db, by, job)


@pytest.mark.parametrize(
    ("field", "value"),
    [("amount", "0"), ("amount", ""), ("amount", "1.005"), ("amount", "NaN"), ("method", " "),
     ("received_on", "yesterday")],
)  # fmt: skip
def test_a_payment_that_cannot_be_is_refused(
    db: Session, by: Actor, job: Job, field: str, value: str
):
    with faults_at(field):
        payments.record(db, by, job, {"amount": "10", "method": "cash", field: value})


def test_what_is_paid_back_counts_against_what_came_in(db: Session, by: Actor, job: Job):
    typed = {"amount": "200", "method": "card", "overpayment_meant": True}
    payments.record(db, by, job, typed)
    payments.record(db, by, job, {"amount": "-77.57", "method": "card", "note": "paid back"})
    assert balances.of_job(db, job).left == 0


def test_numbers_have_no_gap_and_none_twice_when_many_issue_at_once(engine: Engine):
    """Four at a time, every third one undone after its number was taken."""
    workers, each = 4, 3
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        by = factories.someone(db)
        keys = [create_priced_job(db, "10.00").id for _ in range(workers * each)]
    start = Barrier(workers)

    def work(worker: int) -> int:
        start.wait()
        issued = 0
        for place in range(each):
            with session_factory(engine)() as db:
                job = db.get_one(Job, keys[worker * each + place])
                issuing.issue_invoice(db, by, job)
                if (worker + place) % 3 == 0:
                    db.rollback()
                else:
                    db.commit()
                    issued += 1
        return issued

    with ThreadPoolExecutor(workers) as pool:
        issued = sum(pool.map(work, range(workers)))
    with session_factory(engine)() as db:
        numbers = sorted(db.scalars(select(Invoice.number)))
    assert issued == workers * each * 2 // 3
    assert numbers == [f"INV-2026-{place:04d}" for place in range(1, issued + 1)]


def test_one_job_is_invoiced_once_when_many_try_at_once(engine: Engine):
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        by = factories.someone(db)
        key = create_priced_job(db, "10.00").id
    start = Barrier(5)

    def work(_: int) -> bool:
        start.wait()
        with session_factory(engine)() as db:
            try:
                issuing.issue_invoice(db, by, db.get_one(Job, key))
            except RuleError:
                return False
            db.commit()
            return True

    with ThreadPoolExecutor(5) as pool:
        assert sorted(pool.map(work, range(5))) == [False] * 4 + [True]
