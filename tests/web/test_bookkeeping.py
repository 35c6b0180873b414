"""The ledger, its files and reminders on their pages."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import Invoice, OutgoingMail, Reminder, Role, Shop
from shopflow.services.actor import Actor
from shopflow.services.billing import payments
from shopflow.services.routing import operations
from tests import factories
from tests.web.client import Client


@pytest.fixture
def invoice(db: Session, shop: Shop) -> Invoice:
    """An invoice of 100.00 before tax, overdue for three weeks, and 20.00 paid on it."""
    at = datetime.now(UTC) - timedelta(days=60)
    by = Actor(factories.someone(db, "Ida Moss", Role.OWNER).person, at)
    visit = factories.create_visit(db, customer=factories.create_customer(
        db, name="Orla Finch", email="orla@finch.example"))  # fmt: skip
    factories.create_operation(db, visit, price="100.00")
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    row = issuing.issue_invoice(db, by, visit.job)
    payments.record(db, by, visit.job, {"amount": "20.00", "method": "cash"})
    return row


def test_the_ledger_is_shown_by_account_and_kept_as_files(
    client: Client, db: Session, invoice: Invoice
):
    page = client.page("/bookkeeping")
    assert ["Receivables", "$0.00", "$100.00", "$20.00", "$80.00"] in page.rows
    assert ["Money received, cash", "$0.00", "$20.00", "$0.00", "$20.00"] in page.rows
    columns = client.page(page.links["Columns"])
    faulty = client.submit(columns, {"columns": "price"}, status=422)
    assert "'price' is not a field" in faulty.text
    page = client.submit(faulty, {"columns": "document = Beleg\naccount\namount = Betrag"})
    assert page.notices == ["The columns are saved."]
    page = client.submit(page.links["Accounts"], {"code-1": "1200", "name-1": "Debtors"})
    assert page.notices == ["The accounts are saved."]
    file = client.get(page.links["Download CSV"]).text.splitlines()
    assert file[0] == "\ufeffBeleg,account,Betrag"
    assert file[1] == f"{invoice.number},1200,100.00"
    text = client.get(page.links["Download plain-text ledger"]).text
    assert "balance Assets:Receivables 80.00 USD" in text
    assert client.page("/bookkeeping?from=2026-02-01&to=2026-01-01", status=422).alerts
    assert client.get("/bookkeeping/ledger.csv?from=x").status_code == 302
    customer = client.page(f"/customers/{invoice.job.customer_id}")
    assert "Balance to pay $80.00" in customer.text


def test_a_reminder_is_a_draft_until_a_person_sends_it(
    client: Client, db: Session, invoice: Invoice
):
    factories.create_mailbox(db)
    page = client.page("/unpaid")
    assert "Write reminder to Orla Finch" not in page.links
    page = client.press(page.links["Reminders"], "Add three reminders")
    assert [row[1] for row in page.rows] == ["7", "21", "42"]
    page = client.submit(page.links["Change Last reminder"], {"days_overdue": "7"}, status=422)
    assert "There is a reminder at 7 days already" in page.text
    page = client.page("/unpaid")
    assert db.scalars(select(OutgoingMail)).all() == []
    draft = client.page(page.links["Write reminder to Orla Finch"])
    assert f"Invoice {invoice.number}" in (draft.value("body") or "")
    assert draft.value("to_address") == "orla@finch.example"
    page = client.submit(draft)
    assert "is in the outbox" in page.notices[0]
    db.expire_all()
    mail = db.scalars(select(OutgoingMail)).one()
    assert (mail.attachment_name, mail.job_id) == (f"statement-{invoice.job.customer_id}.pdf", None)
    assert [row.invoice_id for row in db.scalars(select(Reminder))] == [invoice.id]
    page = client.page("/unpaid")
    assert "Write reminder to Orla Finch" not in page.links
    page = client.page(f"/unpaid/{invoice.job.customer_id}/remind")
    assert page.notices == ["No reminder is due to Orla Finch."]
    page = client.submit("/reminders/new", {"days_overdue": "90", "subject": "Lawyer"})
    page = client.press(page, "Remove")
    assert page.notices == ["Reminder removed: Friendly reminder."]


def test_the_sum_owed_is_filled_in_where_a_payment_is_recorded(
    client: Client, db: Session, invoice: Invoice
):
    page = client.page(f"/jobs/{invoice.job.number}/money/payments/new")
    assert page.value("amount") == "80.00"
