"""Lines of a job on its pages: added, changed, removed, quoted, declined, invoiced in parts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Job, LineKind, Role, Shop
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.services.registry import customer_links, customers
from shopflow.services.routing import operations
from shopflow.services.shop import settings
from tests import factories
from tests.web.client import Client


@pytest.fixture
def job(db: Session, shop: Shop) -> Job:
    """A job with a step of 100.00, no tax."""
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, "teardown", price="100.00")
    db.commit()
    return visit.job


def test_a_part_a_discount_and_freight_go_from_the_page_to_the_invoice(
    client: Client, stranger: Client, db: Session, job: Job
):
    number, tag = job.number, job.heads[0].tag
    page = client.page(client.page(f"/heads/{tag}").links["Add part"])
    assert page.heading == f"Add line to job {number}"
    typed = {"description": "Valve guide", "part_number": "VG-6", "quantity": "8", "unit": "pc",
             "unit_price": "7.85"}  # fmt: skip
    page = client.submit(page, typed)
    assert page.notices == ["Line added: Valve guide."]
    for words in ("Part number VG-6", "8 pc × $7.85", "$62.80", "$162.80"):
        assert words in page.text, words
    page = client.submit(
        f"/jobs/{number}/lines/new?kind=discount",
        {"description": "Club", "percent": "10", "discount_of": "parts"},
    )
    assert "10 % of the parts" in page.text
    assert "−$6.28" in page.text
    page = client.submit(
        f"/jobs/{number}/lines/new?kind=freight", {"description": "Crate", "unit_price": "40"}
    )
    page = client.submit(f"/jobs/{number}/lines/new?kind=text", {"description": "Own springs"})
    guides = job.lines[0]
    page = client.submit(f"/lines/{guides.id}/change", {"quantity": "4"})
    assert page.notices == ["Line saved: Valve guide."]
    page = client.submit(f"/jobs/{number}/quote", {"look": None})
    page = client.page(page.links["Record approval"])
    assert "Crate: $40.00" in page.text
    page = client.submit(
        page, {"approved_how": "telephone", "lines": [job.heads[0].operations[0].key, guides.key]}
    )
    assert "declined: Crate" in page.notices[0]
    by = factories.someone(db)
    operations.sign_off(db, by, job.heads[0].operations[0], {"not_measured_because": "none"})
    db.commit()
    page = client.page(f"/jobs/{number}/invoice")
    assert "goes along" in page.text
    page = client.submit(page, {"preview": None, "look": None})
    assert page.heading.startswith("Invoice INV-")
    # 100.00 + 4 × 7.85 − 3.14.
    assert "$128.26" in page.text
    page = client.page(f"/jobs/{number}/lines")
    assert "Declined (not done, not charged): Crate" in page.text
    settings.change(db, by, settings.get_shop(db), {"web_address": "https://heads.example"})
    _, address = customer_links.make(db, Actor.now(None), job, shows_prices=True)
    seen = stranger.page(address.removeprefix("https://heads.example"))
    for words in ("Valve guide", "4 pc × $7.85", "−$3.14", "Declined, not charged: Crate"):
        assert words in seen.text, words
    page = client.submit(page, action=f"/lines/{guides.id}/remove", status=409)
    assert "issue a credit note first" in page.text


def test_what_is_wrong_is_said_at_its_field_and_kept(client: Client, job: Job):
    typed = {"description": "", "quantity": "-1", "unit_price": "ten"}
    page = client.submit(f"/jobs/{job.number}/lines/new", typed, status=422)
    assert "required: enter a value" in page.text.lower()
    assert page.form().form_values()
    typed = {"description": "Club", "percent": "", "unit_price": ""}
    page = client.submit(f"/jobs/{job.number}/lines/new?kind=discount", typed, status=422)
    assert "Enter a percentage or an amount, not both" in page.text


def test_the_workshop_says_what_is_needed_and_the_office_prices_it(
    signed_in: Callable[[Role], Client], job: Job
):
    machinist = signed_in(Role.MACHINIST)
    page = machinist.page(f"/jobs/{job.number}/lines/new?kind=discount")
    assert "Unit price" not in page.text
    assert "Discount" not in page.links
    page = machinist.submit(page, {"description": "Valve guide"})
    assert "not priced" in page.text


def test_a_certificate_out_of_date_is_warned_of(client: Client, db: Session, job: Job):
    values = {"tax_exemption": "Resale", "exemption_valid_until": "2020-12-31"}
    customers.change(db, factories.BY, job.customer, values)
    job_lines.add(db, factories.BY, job, LineKind.FEE, {"description": "x", "unit_price": "1"})
    db.commit()
    for address in ("lines", "quote"):
        page = client.page(f"/jobs/{job.number}/{address}")
        assert "was valid until" in page.text, address
