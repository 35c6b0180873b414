"""Unpaid invoices, statements and the reports of money, in the browser's answers."""

from __future__ import annotations

import csv
import io

import pymupdf
import pytest

from shopflow import issuing
from shopflow.models import Job, Role
from shopflow.services.billing import payments
from shopflow.services.routing import operations
from tests import factories


@pytest.fixture
def job(db, client) -> Job:
    """A job of 150.05 before tax, invoiced, with 60 paid in cash."""
    visit = factories.create_visit(db)
    for price in ("100.00", "50.05"):
        factories.create_operation(db, visit, price=price)
    by = factories.someone(db)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    issuing.issue_invoice(db, by, visit.job)
    payments.record(db, by, visit.job, {"amount": "60.00", "method": "cash"})
    db.commit()
    return visit.job


def test_every_debt_is_listed_and_leads_to_its_payment(client, db, job):
    page = client.page("/unpaid")
    assert job.customer.name in page.text
    assert f"/jobs/{job.number}" in page.links[job.number]
    answer = client.get("/unpaid.csv")
    header, row = list(csv.reader(io.StringIO(answer.get_data(as_text=True).lstrip("\ufeff"))))
    assert header[-1] == "unpaid"
    assert row[0] == job.customer.name
    assert row[-1] == f"{float(row[-2]) - 60:.2f}"


def test_a_statement_is_printed_from_the_customer_and_the_list(client, db, job):
    page = client.page(f"/customers/{job.customer_id}")
    answer = client.get(page.links["Print statement"])
    with pymupdf.open(stream=answer.data) as paper:
        printed = " ".join("".join(sheet.get_text() for sheet in paper).split())
    for words in ("Statement of account", "Payment, cash", "Balance to pay", "Unpaid invoices"):
        assert words in printed, words


def test_a_shop_without_debts_says_so(client):
    assert "Every invoice is paid" in client.page("/unpaid").text


@pytest.mark.parametrize("name", ["takings", "tax"])
def test_money_is_reported_by_day_and_by_tax(client, db, job, name):
    days = "from=2020-01-01&to=2029-12-31"
    (row,) = client.page(f"/reports/money/{name}?{days}").rows
    assert (
        row[1:]
        == {
            "takings": ["cash", "1", "$60.00"],
            "tax": [row[1], "$150.05", row[3]],
        }[name]
    )
    lines = client.get(f"/reports/money/{name}.csv?{days}").get_data(as_text=True).splitlines()
    assert len(lines) == 2


def test_debts_are_for_the_office(signed_in, job):
    machinist = signed_in(Role.MACHINIST)
    for path in (
        "/unpaid",
        "/unpaid.csv",
        f"/papers/statement/{job.customer_id}.pdf",
        "/reports/money/takings",
    ):
        assert machinist.get(path).status_code == 403
    assert "Print statement" not in machinist.page(f"/customers/{job.customer_id}").links
