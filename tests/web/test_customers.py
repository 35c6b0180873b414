"""Customers in the browser."""

from __future__ import annotations

from shopflow.services import customers
from tests.factories import create_customer, create_job


def test_a_new_customer_is_kept_as_typed_and_shown(client, db):
    page = client.submit("/customers/new", {"name": "Orla Finch", "address": "1 Weir Lane\nTarn"})
    assert page.heading == "Orla Finch"
    assert page.notices == ["Orla Finch is on file."]
    (kept,) = customers.everyone(db)
    assert kept.address.splitlines() == ["1 Weir Lane", "Tarn"]


def test_the_page_of_a_customer_lists_their_jobs(client, db):
    customer = create_customer(db, name="Wren Motors")
    job = create_job(db, customer, promised_on="2026-04-01")
    page = client.page(f"/customers/{customer.id}")
    assert page.rows[0][0] == job.number
    assert page.rows[0][3] == "1 Apr 2026"
