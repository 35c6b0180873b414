"""Electronic invoices from the owner's switch to the customer's download."""

from __future__ import annotations

import facturx
import pytest
from sqlalchemy.orm import Session

from shopflow.models import Job, Shop
from shopflow.services.actor import Actor
from shopflow.services.registry import customer_links
from shopflow.services.routing import operations
from tests import factories
from tests.schematron import broken_rules
from tests.web.client import Client


@pytest.fixture
def done(db: Session, shop: Shop) -> Job:
    """A job of two steps for a customer without an address, approved and done."""
    by = factories.someone(db)
    visit = factories.create_visit(db)
    for price in ("100.00", "50.05"):
        factories.create_operation(db, visit, price=price)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    db.commit()
    return visit.job


def test_the_fields_are_offered_in_the_eu_only(client: Client, db: Session, done: Job):
    change = f"/customers/{done.customer_id}/change"
    for path in ("/shop/house-style", change):
        assert "VAT number" not in client.page(path).text
    client.submit("/shop", {"country": "NO"})
    assert "VAT number" not in client.page("/shop/house-style").text
    client.submit("/shop", {"country": "DE"})
    for path in ("/shop/house-style", change):
        assert "VAT number" in client.page(path).text


def test_from_the_switch_to_the_download(client: Client, db: Session, done: Job):
    number = done.number
    client.submit("/shop", {"country": "DE", "currency": "EUR", "tax_rate_percent": "19"})
    switched = {"e_invoices": "y", "vat_id": "", "iban": "DE00", "bic": "TESTDEFFXXX"}
    page = client.submit("/shop/house-style", switched, status=422)
    assert page.value("bic") == "TESTDEFFXXX"
    assert "not an IBAN" in page.text
    page = client.submit("/shop/house-style", {**switched, "iban": ""}, status=422)
    assert "Enter the shop's VAT number or tax number" in page.text
    assert "Enter the shop's address in Shop settings first" in page.text
    client.submit("/shop", {"address": "Weir Lane 12\n40417 Trewarrick"})
    right = {**switched, "vat_id": "de 999 999 995", "iban": "DE89370400440532013000"}
    assert "is saved" in client.submit("/shop/house-style", right).notices[0]

    page = client.page(f"/jobs/{number}/invoice")
    assert "Before an electronic invoice can be issued" in page.text
    (link,) = [url for words, url in page.links.items() if "Enter the address of" in words]
    assert link.endswith(f"/customers/{done.customer_id}/change#address")
    refused = client.submit(f"/jobs/{number}/invoice", {"preview": None, "look": None}, status=422)
    assert "Enter the address of" in refused.text
    wrong = {"vat_id": "AT 1", "country": "AT"}
    assert "not a VAT number of AT" in client.submit(link, wrong, status=422).text
    client.submit(
        link,
        {"address": "Quay Street 4\n1010 Vale", "country": "AT", "vat_id": "ATU99999993",
         "exemption_kind": "reverse charge", "buyer_reference": "R-1"},
    )  # fmt: skip
    page = client.page(f"/customers/{done.customer_id}")
    assert "Austria" in page.text
    assert "ATU99999993" in page.text

    page = client.submit(f"/jobs/{number}/invoice", {"preview": None, "look": None})
    assert "is issued" in page.notices[0]
    answer = client.get(page.links["Download XML"])
    assert answer.mimetype == "application/xml"
    assert broken_rules(answer.text) == []
    inside = facturx.get_facturx_xml_from_pdf(client.get(page.links["Open PDF"]).data)[1]
    assert inside.decode() == answer.text
    page = client.submit(page.links["Issue credit note"], {"reason": "A slip"})
    assert broken_rules(client.get(page.links["Download XML"]).text) == []


def test_a_customer_downloads_both_where_the_link_shows_prices(
    client: Client, db: Session, done: Job
):
    client.submit("/shop", {"country": "DE", "address": "Weir Lane 12", "web_address": "http://h"})
    client.submit("/shop/house-style", {"e_invoices": "y", "vat_id": "DE999999995"})
    client.submit(f"/customers/{done.customer_id}/change", {"address": "Quay Street 4"})
    client.submit(f"/jobs/{done.number}/invoice", {"preview": None, "look": None})
    by = Actor.now(None)
    shown, hidden = (
        customer_links.make(db, by, done, shows_prices=prices)[1].removeprefix("http://h")
        for prices in (True, False)
    )
    db.commit()
    page = client.page(shown)
    xml = client.get(page.links["Download XML of INV-2026-0001"])
    assert broken_rules(xml.text) == []
    assert client.get(page.links["Download PDF of INV-2026-0001"]).mimetype == "application/pdf"
    assert "INV-2026-0001" not in client.page(hidden).text
    assert client.get(f"{hidden}/invoice/INV-2026-0001.xml").status_code == 404
