"""A job's money: quote, the customer's word, payments, invoice, credit note."""

from __future__ import annotations

import io
from collections.abc import Callable

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import Job, Role, Shop
from shopflow.services.billing import credits, invoices, payments
from shopflow.services.routing import operations
from tests import factories
from tests.web.client import Client


@pytest.fixture
def job(db: Session, shop: Shop) -> Job:
    """A job of 150.05, no tax."""
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, "teardown", price="100.00", planned_minutes="45")
    factories.create_operation(db, visit, "seat-cut", price="50.05")
    return visit.job


def words(content: bytes) -> str:
    """A PDF's words."""
    with pymupdf.open(stream=io.BytesIO(content)) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())


@pytest.fixture
def done(db: Session, job: Job) -> Job:
    """The same job, approved and done."""
    by = factories.someone(db)
    factories.approve(db, by, job)
    for step in job.heads[0].operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    db.commit()
    return job


def test_a_job_goes_from_quote_to_a_paid_invoice(client: Client, db: Session, job: Job):
    number = job.number
    page = client.page(f"/jobs/{number}/money")
    assert "No quotes, payments or invoices yet." in page.text
    page = client.submit(f"/jobs/{number}/quote", {"deposit": "50", "look": None})
    assert page.notices == ["Quote Q-2026-0001 is recorded. It can no longer be changed."] or (
        "is recorded" in page.notices[0]
    )
    assert "Record approval" in page.links
    page = client.submit(page.links["Record approval"], {"approved_how": "telephone"})
    assert "is approved" in page.notices[0]
    paying = client.page(client.page(f"/jobs/{number}/money").links["Record payment"])
    typed = {"amount": "50", "method": "card", "is_deposit": "y"}
    page = client.submit(paying, typed)
    assert "$100.05" in page.text
    assert "Deposit, card" in page.text
    receipt = words(client.get(f"/papers/receipt/{payments.of_job(db, job)[0].id}.pdf").data)
    assert "Deposit receipt" in receipt
    assert "Received $50.00" in receipt
    by = factories.someone(db)
    for step in job.heads[0].operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    db.commit()
    page = client.submit(page.links["Issue invoice"], {"preview": None, "look": None})
    assert page.heading.startswith("Invoice INV-")
    printed = client.get(page.links["Open PDF"])
    assert printed.mimetype == "application/pdf"
    assert "Balance to pay $100.05" in words(printed.data)
    page = client.submit(page.links["Issue credit note"], {"reason": "wrong name"})
    assert page.heading.startswith("Credit note CN-")
    page = client.page(f"/jobs/{number}/money")
    assert "Issue invoice" in page.links
    assert "credited by CN-" in page.text


def test_the_approval_page_asks_line_by_line_and_shows_what_was_declined(
    client: Client, db: Session, job: Job
):
    teardown = job.heads[0].operations[0]
    page = client.page(f"/jobs/{job.number}/approve")
    assert "Cut seats" in page.text
    typed = {"approved_how": "telephone", "lines": [str(teardown.id)]}
    page = client.submit(page, typed)
    assert page.notices == [f"Job {job.number} is approved. Work may start; declined: Cut seats."]
    assert "declined" in page.text
    page = client.page(f"/jobs/{job.number}/money")
    assert "Declined (not done, not charged): Cut seats" in page.text
    assert "$100.00" in page.text


def test_a_job_without_priced_work_is_not_approved(client: Client, db: Session, shop: Shop):
    bare = factories.create_job(db)
    db.commit()
    page = client.page(f"/jobs/{bare.number}")
    assert "Quote given" not in page.text
    page = client.page(f"/jobs/{bare.number}/approve")
    assert "Nothing to approve: no work is planned yet" in page.text
    page = client.submit(page, {"approved_how": "telephone"}, status=422)
    assert "no work is planned yet" in page.alerts.lower()
    client.post(f"/jobs/{bare.number}/move", data={"state": "quoted"})
    db.expire_all()
    assert (bare.state, bare.approved_at) == ("booked in", None)


def test_an_invoice_says_first_what_is_missing_and_is_previewed_without_a_number(
    client: Client, db: Session, done: Job
):
    factories.create_operation(db, done.heads[0], "port-work", price="650.00")
    db.commit()
    page = client.page(f"/jobs/{done.number}/invoice")
    assert "carry no tax number and no payment details" in page.text
    assert "Not approved by the customer, so not on this invoice: Port" in page.text
    assert "$150.05" in page.text
    form = dict(page.form().form_values()) | {"preview": "Preview PDF"}
    form["steps"] = [str(step.id) for step in done.heads[0].operations[:1]]
    response = client.post(f"/jobs/{done.number}/invoice", data=form)
    assert "Preview, not issued" in words(response.data)
    assert "$100.00" in words(response.data)
    assert invoices.of_job(db, done) == []
    page = client.submit(page, {"issue": None, "preview": None, "steps": form["steps"]})
    assert "$100.00" in page.text


def test_more_than_is_owed_is_asked_about(client: Client, db: Session, done: Job):
    address = f"/jobs/{done.number}/money/payments/new"
    page = client.submit(address, {"amount": "1500.50", "method": "card"}, status=422)
    assert "more than is owed" in page.fault("overpayment_meant")
    assert page.value("amount") == "1500.50"
    client.submit(page, {"overpayment_meant": "y"})
    assert "In the customer's favor" in client.page(f"/jobs/{done.number}").text


def test_a_part_of_an_invoice_is_taken_back(client: Client, db: Session, done: Job):
    job = done
    client.submit(f"/jobs/{job.number}/invoice", {"preview": None, "look": None})
    (invoice,) = invoices.of_job(db, job)
    names = [line.name for line in credits.open_lines(invoice)]
    address = f"/invoices/{invoice.number}/credit"
    typed = {"reason": "one guide", **dict.fromkeys(names, ""), names[0]: "1.00"}
    page = client.submit(address, {**typed, names[0]: "9999"}, status=422)
    assert "no more than" in page.fault(names[0]).lower()
    assert page.value("reason") == "one guide"
    client.submit(address, typed)
    page = client.page(f"/invoices/{invoice.number}")
    assert "Credited in part by CN-" in page.text
    assert "Balance" in page.text
    assert "credited in part by CN-" in client.page(f"/jobs/{job.number}/money").text


def test_a_draft_is_shown_and_nothing_kept(client: Client, job: Job):
    page = client.page(f"/jobs/{job.number}/quote")
    form = dict(page.form().form_values()) | {"look": "Preview PDF", "show_minutes": "y"}
    response = client.post(f"/jobs/{job.number}/quote", data=form)
    assert response.mimetype == "application/pdf"
    text = words(response.data)
    assert "Draft, not given to the customer" in text
    assert "45" in text
    assert "No quotes, payments or invoices yet." in client.page(f"/jobs/{job.number}/money").text


def test_what_is_wrong_is_said_at_the_field_and_kept(client: Client, job: Job):
    page = client.submit(
        f"/jobs/{job.number}/quote",
        {"valid_until": "2020-01-01", "deposit": "much", "conditions": "Long words", "look": None},
        status=422,
    )
    assert "is not a number" in page.fault("deposit")
    assert page.value("conditions") == "Long words"
    page = client.submit(
        f"/jobs/{job.number}/quote", {"valid_until": "2020-01-01", "look": None}, status=422
    )
    assert page.fault("valid_until")
    page = client.submit(
        f"/jobs/{job.number}/money/payments/new", {"amount": "0", "note": "x"}, status=422
    )
    assert page.fault("amount")
    assert page.fault("method")
    assert page.value("note") == "x"


def test_an_invoice_of_nothing_is_refused_plainly(client: Client, db: Session, shop: Shop):
    empty = factories.create_job(db)
    assert (
        "Nothing of this job can be invoiced" in client.page(f"/jobs/{empty.number}/invoice").text
    )
    page = client.page(f"/jobs/{empty.number}/money")
    assert "Issue invoice" not in page.links
    assert "No steps planned yet" in client.page(f"/jobs/{empty.number}/quote").text


def test_the_bench_looks_and_the_office_writes(signed_in: Callable[[Role], Client], done: Job):
    job = done
    machinist = signed_in(Role.MACHINIST)
    page = machinist.page(f"/jobs/{job.number}/money")
    assert "Write quote" not in page.links
    machinist.page(f"/jobs/{job.number}/quote", status=403)
    machinist.page(f"/jobs/{job.number}/invoice", status=403)
    counter = signed_in(Role.COUNTER)
    typed = {"preview": None, "look": None}
    new_page = counter.submit(f"/jobs/{job.number}/invoice", typed)
    assert "Issue credit note" not in new_page.links


@pytest.mark.parametrize(
    "address", ["/invoices/INV-1", "/papers/quote/Q-1/1.pdf", "/shop/logo.png"]
)
def test_what_is_not_there_is_said_to_be_missing(client: Client, shop: Shop, address: str):
    client.page(address, status=404)


def test_money_is_a_timeline_with_the_balance_after_each_event(client, db, by, job):
    issuing.give_quote(db, by, job, {})
    factories.approve(db, by, job)
    payments.record(db, by, job, {"amount": "40", "method": "cash", "is_deposit": True})
    page = client.page(f"/jobs/{job.number}/money")
    titles = [title.text_content().split()[0] for title in page.tree.xpath("//ol/li//h3")]
    assert titles == ["Quote", "Approved", "Deposit,"]
    assert page.text.count("Balance \N{MINUS SIGN}$40.00") == 1


def test_a_payment_is_saved_by_the_button_of_its_way(client, db, by, job):
    factories.approve(db, by, job)
    client.press(f"/jobs/{job.number}/money/payments/new", "Save cash payment")
    (payment,) = payments.of_job(db, job)
    assert (str(payment.amount), payment.method) == ("150.05", "cash")
