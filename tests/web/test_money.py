"""A job's money: quote, the customer's word, payments, invoice, credit note."""

from __future__ import annotations

import io
from collections.abc import Callable

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow.models import Job, Role, Shop
from shopflow.services import credits, invoices
from tests import factories
from tests.web.client import Client


@pytest.fixture
def job(db: Session, shop: Shop) -> Job:
    """A job of 150.05, no tax."""
    stay = factories.create_visit(db)
    factories.create_operation(db, stay, "teardown", price="100.00", planned_minutes="45")
    factories.create_operation(db, stay, "seat-cut", price="50.05")
    return stay.job


def words(content: bytes) -> str:
    """A PDF's words."""
    with pymupdf.open(stream=io.BytesIO(content)) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())


def test_a_job_goes_from_quote_to_a_paid_invoice(client: Client, job: Job):
    number = job.number
    page = client.page(f"/jobs/{number}/money")
    assert "None given yet." in page.text
    page = client.submit(f"/jobs/{number}/quote", {"deposit": "50", "look": None})
    assert page.notices == ["Quote Q-2026-0001 is given. It cannot be changed any more."] or (
        "is given" in page.notices[0]
    )
    assert "The customer approves" in page.links
    page = client.submit(page.links["The customer approves"], {"approved_how": "telephone"})
    assert "is approved" in page.notices[0]
    paying = client.page(client.page(f"/jobs/{number}/money").links["Write a payment down"])
    page = client.submit(paying, {"amount": "50", "method": "card"})
    assert "$100.05" in page.text
    page = client.submit(page.links["Issue an invoice"])
    assert page.heading.startswith("Invoice INV-")
    printed = client.get(page.links["Open the PDF"])
    assert printed.mimetype == "application/pdf"
    assert "Balance to pay $100.05" in words(printed.data)
    page = client.submit(page.links["Take it back"], {"reason": "wrong name"})
    assert page.heading.startswith("Credit note CN-")
    page = client.page(f"/jobs/{number}/money")
    assert "Issue an invoice" in page.links
    assert "taken back by CN-" in page.text


def test_a_part_of_an_invoice_is_taken_back(client: Client, db: Session, job: Job):
    client.submit(f"/jobs/{job.number}/invoice")
    (invoice,) = invoices.of_job(db, job)
    names = [line.name for line in credits.left(invoice)]
    address = f"/invoices/{invoice.number}/credit"
    typed = {"reason": "one guide", **dict.fromkeys(names, ""), names[0]: "1.00"}
    page = client.submit(address, {**typed, names[0]: "9999"}, status=422)
    assert "no more than" in page.fault(names[0]).lower()
    assert page.value("reason") == "one guide"
    client.submit(address, typed)
    page = client.page(f"/invoices/{invoice.number}")
    assert "Taken back in part by CN-" in page.text
    assert "Balance" in page.text
    assert "taken back in part by CN-" in client.page(f"/jobs/{job.number}/money").text


def test_a_draft_is_shown_and_nothing_kept(client: Client, job: Job):
    page = client.page(f"/jobs/{job.number}/quote")
    form = dict(page.form().form_values()) | {"look": "See the draft (PDF)", "show_minutes": "y"}
    response = client.post(f"/jobs/{job.number}/quote", data=form)
    assert response.mimetype == "application/pdf"
    text = words(response.data)
    assert "Draft, not given to the customer" in text
    assert "45" in text
    assert "None given yet." in client.page(f"/jobs/{job.number}/money").text


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
    assert "Nothing of this job" in client.page(f"/jobs/{empty.number}/invoice").text
    page = client.page(f"/jobs/{empty.number}/money")
    assert "Issue an invoice" not in page.links
    assert "No work is planned yet" in client.page(f"/jobs/{empty.number}/quote").text


def test_the_bench_looks_and_the_office_writes(signed_in: Callable[[Role], Client], job: Job):
    machinist = signed_in(Role.MACHINIST)
    page = machinist.page(f"/jobs/{job.number}/money")
    assert "Write a quote" not in page.links
    machinist.page(f"/jobs/{job.number}/quote", status=403)
    machinist.page(f"/jobs/{job.number}/invoice", status=403)
    counter = signed_in(Role.COUNTER)
    made = counter.submit(f"/jobs/{job.number}/invoice")
    assert "Take it back" not in made.links


@pytest.mark.parametrize(
    "address", ["/invoices/INV-1", "/papers/quote/Q-1/1.pdf", "/shop/logo.png"]
)
def test_what_is_not_there_is_said_to_be_missing(client: Client, shop: Shop, address: str):
    client.page(address, status=404)
