"""Customers in the browser."""

from __future__ import annotations

import pytest

from shopflow.models import Role
from shopflow.services import audit_log
from shopflow.services.registry import customers
from tests.factories import BY, create_customer, create_job

FULL = {
    "name": "Wren Motors",
    "is_firm": "y",
    "phone": "555 0123",
    "email": "desk@wren.test",
    "address": "1 Weir Lane\nTarn",
    "tax_rate_percent": "0",
    "tax_exemption": "resale 44",
    "notes": "Ask for Ola.",
}


def test_a_new_customer_is_kept_as_typed_and_shown(client, db):
    page = client.submit("/customers/new", FULL)
    assert page.heading == "Wren Motors"
    assert page.notices == ["Wren Motors was added."]
    assert "0 %, resale 44" in page.text
    (stored,) = customers.list_all(db)
    assert (stored.is_firm, stored.phone, stored.notes) == (True, "555 0123", "Ask for Ola.")
    assert stored.address.splitlines() == ["1 Weir Lane", "Tarn"]


def test_changing_one_starts_from_what_is_on_file(client, db):
    customer = create_customer(db, **{**FULL, "is_firm": True})
    page = client.page(f"/customers/{customer.id}/change")
    assert {name: page.value(name) for name in FULL} == {
        **FULL,
        "address": "1 Weir Lane\nTarn",
    }
    client.submit(page, {"phone": "555 0199", "tax_rate_percent": "", "is_firm": None})
    assert (customer.phone, customer.tax_rate_percent) == ("555 0199", None)
    assert not customer.is_firm
    assert customer.email == "desk@wren.test"


@pytest.mark.parametrize(("name", "is_told"), [("王小明 محمد नमस्ते", False), ("བོད", True)])
def test_a_name_that_papers_cannot_draw_is_told(client, db, name, is_told):
    page = client.submit("/customers/new", {**FULL, "name": name})
    assert ("Documents cannot print these letters: བོད" in page.text) is is_told


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("name", "", "Required: enter a value"),
        ("name", "x" * 201, "201 characters is too long: enter at most 200"),
        ("tax_rate_percent", "eight", "'eight' is not a number"),
        ("tax_rate_percent", "NaN", "'NaN' is out of range: enter a number up to 99999999.99"),
        ("tax_rate_percent", "-5", "'-5' is too low: enter 0 or more"),
        ("notes", "x" * 20_001, "20001 characters is too long: enter at most 20000"),
        ("phone", "555\x000", "Contains a character that cannot be stored: remove it"),
    ],
)
def test_a_fault_shows_at_its_field_and_nothing_typed_is_lost(client, db, field, typed, message):
    page = client.submit("/customers/new", {**FULL, field: typed}, status=422)
    assert page.fault(field) == message
    shown = {name: page.value(name) for name in FULL if name != field}
    assert shown == {name: value for name, value in FULL.items() if name != field}
    if "\x00" not in typed:
        assert page.value(field) == typed
    assert customers.list_all(db) == []


def test_the_list_is_narrowed_by_what_is_typed(client, db):
    create_customer(db, name="Orla Finch", phone="555 0101")
    create_customer(db, name="Wren Motors", email="desk@wren.test")
    assert [row[0] for row in client.page("/customers").rows] == ["Orla Finch", "Wren Motors"]
    page = client.page("/customers?q=WREN")
    assert [row[0] for row in page.rows] == ["Wren Motors"]
    assert page.value("q") == "WREN"


@pytest.mark.parametrize("text", ["%", "_", "\\", "'; DROP TABLE customer --", "\x00", "<b>"])
def test_a_strange_filter_is_only_text(client, db, text):
    create_customer(db, name="Orla Finch")
    answer = client.get("/customers", query_string={"q": text})
    assert answer.status_code == 200
    assert "<b>" not in answer.text.split("<main")[1]


def test_an_empty_list_says_what_to_do(client):
    assert "Booking in a head also adds its customer" in client.page("/customers").text


def test_the_page_of_a_customer_lists_their_jobs(client, db):
    customer = create_customer(db, name="Wren Motors")
    job = create_job(db, customer, promised_on="2026-04-01", head_count=2)
    create_job(db)
    (row,) = client.page(f"/customers/{customer.id}").rows
    assert row[0] == job.number
    assert row[1].count("casting") == 2
    assert row[2:] == ["Mar 5, 2026", "Apr 1, 2026", "booked in"]


def test_contacts_are_shown(client, db):
    customer = create_customer(db)
    contact = {"name": "Ola Reed", "role": "parts desk", "phone": "555 0177"}
    customers.add_contact(db, BY, customer, contact)
    assert "parts desk Ola Reed, 555 0177" in client.page(f"/customers/{customer.id}").text


def test_a_customer_who_is_not_there_is_not_found(client):
    page = client.page("/customers/999", status=404)
    assert page.text.startswith("Page not found This customer does not exist.")


def test_the_later_of_two_editors_sees_what_the_first_saved(signed_in, db):
    customer = create_customer(db, name="Wren Motors", phone="555 0100", notes="old")
    here, there = signed_in(Role.OWNER), signed_in(Role.COUNTER)
    mine = here.page(f"/customers/{customer.id}/change")
    theirs = there.page(f"/customers/{customer.id}/change")
    there.submit(theirs, {"phone": "555 0111"})

    page = here.submit(mine, {"phone": "555 0122", "notes": "new"}, status=422)
    assert "Someone else changed this while you had it open" in page.alerts
    assert "555 0111" in page.text
    assert "555 0122" in page.text
    assert (page.value("choosing"), page.value("notes")) == ("phone", "new")
    assert customer.phone == "555 0111"

    here.submit(page, {"choice-phone": "mine"})
    db.refresh(customer)
    assert (customer.phone, customer.notes) == ("555 0122", "new")


def test_a_version_that_is_no_number_is_not_a_crash(client, db):
    customer = create_customer(db)
    client.submit(f"/customers/{customer.id}/change", {"version": "x", "phone": "555 0133"})
    assert customer.phone == "555 0133"


def test_a_reader_sees_no_way_to_change(signed_in, db):
    customer = create_customer(db)
    reader = signed_in(Role.READER)
    assert "Change" not in reader.page(f"/customers/{customer.id}").links
    assert "Add customer" not in reader.page("/customers").links


def test_line_ends_of_a_browser_are_no_change_of_the_address(client, db):
    """The log has no false entry: CR and LF come back where LF was kept."""
    row = create_customer(db, address="1 Quay\nEastbank", notes="a\nb")
    db.commit()
    before = len(audit_log.of_record(db, row))
    form = dict(client.page(f"/customers/{row.id}/change").form().form_values())
    form = {name: value.replace("\n", "\r\n") for name, value in form.items()}
    assert client.post(f"/customers/{row.id}/change", data=form).status_code == 302
    db.expire_all()
    assert len(audit_log.of_record(db, row)) == before
    assert row.address == "1 Quay\nEastbank"


def test_text_kept_with_other_line_ends_is_no_change_either(client, db):
    row = create_customer(db)
    row.address = "1 Quay\r\nEastbank"
    db.commit()
    before = len(audit_log.of_record(db, row))
    client.submit(f"/customers/{row.id}/change", {})
    db.expire_all()
    assert len(audit_log.of_record(db, row)) == before
