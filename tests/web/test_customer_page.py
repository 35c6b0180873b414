"""A customer's private link: made, opened without an account, revoked; and what it never shows."""

from __future__ import annotations

from datetime import timedelta

import pymupdf
import pytest

from shopflow import issuing
from shopflow.files import FileStore
from shopflow.models import CustomerLink, IntegrityKind, Role
from shopflow.services.actor import Actor
from shopflow.services.measuring import integrity_tests, measurements
from shopflow.services.registry import attachments, customer_links
from shopflow.services.registry.attachments import Upload
from shopflow.services.shop import settings
from tests import factories, photos
from tests.factories import (
    BY,
    create_customer,
    create_job,
    create_operation,
    create_session,
    someone,
)

SECRET = "not for the customer"


@pytest.fixture
def job(db):
    settings.change(db, BY, settings.get_shop(db), {"web_address": "https://heads.example"})
    new_job = create_job(
        db, create_customer(db, name="Orla Finch"), notes=SECRET, promised_on="2026-04-01"
    )
    new_job.heads[0].condition = new_job.customer.notes = SECRET
    create_operation(db, new_job.heads[0], instructions=SECRET, price="120")
    return new_job


@pytest.fixture
def store(web_app) -> FileStore:
    return FileStore(web_app.config["SHOPFLOW"].files)


def a_link(db, job, **values) -> str:
    """The path of a new link."""
    return customer_links.make(db, Actor.now(None), job, **values)[1].removeprefix(
        "https://heads.example"
    )


def test_a_link_is_made_shown_once_and_opens_the_page(client, stranger, db, job):
    page = client.submit(f"/jobs/{job.number}/link", {"days": "7", "shows_prices": "y"})
    assert page.heading == "Private link created"
    assert page.response.headers["Cache-Control"] == "no-store"
    address = page.tree.xpath("//input[@id='address']/@value")[0]
    token = address.rpartition("/")[2]
    assert token not in client.page(f"/jobs/{job.number}").response.text
    page = stranger.page(f"/c/{token}")
    assert page.heading == f"Your job {job.number}"
    assert "Booked in." in page.text
    assert "Promised for Apr 1, 2026" in page.text
    assert "$120.00" in page.text
    assert "0 of 1 step done" in page.text


def test_the_inspection_report_is_shown_beside_the_quote(client, stranger, db, job):
    """Once a quote was sent; with prices only where the link shows them."""
    kind = measurements.kind_by_code(db, "deck flatness")
    measurements.record(db, BY, job.heads[0], kind.id, {"value": "0.004 in"})
    db.commit()
    path = a_link(db, job)
    db.commit()
    assert "Inspection report" not in stranger.page(path).text
    assert stranger.get(f"{path}/inspection-report.pdf").status_code == 404
    issuing.give_quote(db, BY, job, {})
    db.commit()
    address = stranger.page(path).links["Inspection report (PDF)"]
    for served, priced in (
        (stranger.get(address), False),
        (client.get(client.page(f"/jobs/{job.number}").links["Inspection report (PDF)"]), True),
    ):
        with pymupdf.open(stream=served.data) as pdf:
            words = pdf[0].get_text()
        assert "Deck flatness" in words
        assert ("$120.00" in words) is priced


def test_leak_and_crack_tests_are_shown_as_the_inspection_report_has_them(
    client, stranger, db, job
):
    """Once a quote was sent; what was decided on them, and a withdrawn one, is not."""
    crack = {"method": "dye penetrant", "result": "repairable", "place": "around hole 7"}
    integrity_tests.add(db, BY, job.heads[0], IntegrityKind.CRACK, crack)
    wrong = integrity_tests.add(
        db, BY, job.heads[0], IntegrityKind.CRACK, {**crack, "place": "near the plug of cylinder 3"}
    )
    integrity_tests.withdraw(db, BY, wrong, "a scratch")
    path = a_link(db, job)
    db.commit()
    assert "Crack test" not in stranger.page(path).text
    issuing.give_quote(db, BY, job, {})
    db.commit()
    page = stranger.page(path)
    assert "Crack test: repairable (around hole 7) dye penetrant" in page.text
    assert "cylinder 3" not in page.text


def test_a_certificate_held_back_is_neither_shown_nor_served(client, stranger, db, job):
    session = create_session(db, job.heads[0])
    row = factories.issue_certificate(db, someone(db), [session])
    db.expire(job)
    field = f"certificate-{row.number}"
    for choice, shown, curve in (
        ("whole", True, True), ("no curve", True, False), ("hidden", False, False),
    ):  # fmt: skip
        new_page = client.submit(f"/jobs/{job.number}/link", {"days": "7", field: choice})
        address = new_page.tree.xpath("//input[@id='address']/@value")[0]
        path = address.removeprefix("https://heads.example")
        page = stranger.page(path)
        assert (row.number in page.text) is shown
        assert bool(page.tree.xpath("//*[contains(@class, 'charts')]")) is curve
        pdf = stranger.get(f"{path}/certificate/{row.number}/1.pdf")
        assert pdf.status_code == (200 if shown else 404)


def test_the_page_says_nothing_of_the_shops_own(client, stranger, db, job):
    other = create_job(db, job.customer, asked_for=SECRET)
    page = stranger.page(a_link(db, job))
    assert SECRET not in page.response.text
    assert other.number not in page.response.text
    assert "$" not in page.text
    # Neither the bar nor a link into the shop's own pages.
    inside = [href for href in page.links.values() if href.startswith("/") and "/c/" not in href]
    assert inside == []
    assert page.tree.xpath("//nav") == []


def test_it_is_kept_out_of_caches_search_engines_and_other_sites_logs(stranger, db, job):
    address = a_link(db, job)
    for path in (address, "/c/wrong", f"{address}/file/1", f"{address}/certificate/x/1.pdf"):
        headers = stranger.get(path).headers
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["X-Robots-Tag"] == "noindex, nofollow"
        assert "Set-Cookie" not in headers


def test_wrong_expired_and_revoked_links_lead_to_the_same_page(stranger, db, job):
    revoked = a_link(db, job)
    customer_links.revoke(db, BY, db.query(CustomerLink).one())
    long_ago = Actor(None, Actor.now(None).at - timedelta(days=8))
    expired = customer_links.make(db, long_ago, job, days=7)[1].removeprefix(
        "https://heads.example"
    )
    pages = {stranger.page(path, 404).response.text for path in (revoked, expired, "/c/wrong")}
    assert len(pages) == 1
    for path in (revoked, expired, "/c/wrong"):
        assert stranger.get(f"{path}/file/1").data.decode() in pages
        assert stranger.get(f"{path}/certificate/FC-2026-0001/1.pdf").data.decode() in pages


def test_openings_are_counted_and_the_shops_own_looks_are_not(client, stranger, db, job):
    address = a_link(db, job)
    assert "not yet" in client.page(f"/jobs/{job.number}").text
    stranger.page(address)
    stranger.page(address)
    client.page(address)
    assert "2 times" in client.page(f"/jobs/{job.number}").text


def test_a_link_is_revoked_on_the_jobs_page(client, stranger, db, job):
    address = a_link(db, job)
    stranger.page(address)
    page = client.press(f"/jobs/{job.number}", "Revoke link")
    assert page.notices == ["The link is revoked. It no longer works."]
    assert "revoked" in page.text
    stranger.page(address, 404)


def test_certificates_come_as_issued_with_their_curves(stranger, db, job):
    issued = factories.issue_certificate(db, someone(db), [create_session(db, job.heads[0])])
    other = create_job(db)
    foreign = factories.issue_certificate(db, someone(db), [create_session(db, other.heads[0])])
    address = a_link(db, job)
    page = stranger.page(address)
    assert len(page.tree.find_class("chart-box")) == 1
    answer = stranger.get(page.links[f"Download PDF of {issued.title}"])
    assert answer.data == issued.pdf
    assert answer.headers["Cache-Control"] == "no-store"
    assert stranger.get(f"{address}/certificate/{foreign.number}/1.pdf").status_code == 404
    assert stranger.get(f"/papers/certificate/{issued.number}/1.pdf").status_code == 302


def test_only_photos_chosen_are_shown_and_only_by_this_jobs_link(stranger, db, job, store):
    def add(to, name: str, size: int, shown: bool):
        values = {"caption": name, "shown_to_customer": shown}
        upload = Upload(f"{name}.jpg", photos.jpeg(size, size))
        return attachments.add(db, BY, store, to, to.heads[0], [upload], values).stored[0]

    shown, kept_back = add(job, "shown", 50, True), add(job, "kept back", 60, False)
    foreign = add(create_job(db), "another's", 70, True)
    address = a_link(db, job)
    page = stranger.page(address)
    assert page.tree.xpath("//main//img/@alt") == ["shown"]
    (small,) = page.tree.xpath("//main//img/@src")
    assert photos.opened(stranger.get(small).data).size == (50, 50)
    assert stranger.get(f"{address}/file/{shown.id}").mimetype == "image/jpeg"
    for row in (kept_back, foreign):
        assert stranger.get(f"{address}/file/{row.id}").status_code == 404
        assert stranger.get(f"{address}/file/{row.id}/small").status_code == 404
    assert stranger.get(f"/files/{shown.id}").status_code == 302


def test_the_shop_can_see_what_the_customer_sees(client, db, job):
    page = client.page(f"/jobs/{job.number}/as-customer")
    assert page.heading == f"Your job {job.number}"
    assert "This is what the customer sees." in page.text
    assert SECRET not in page.response.text


def test_a_link_without_the_address_of_the_app_is_refused_in_words(client, db):
    job = create_job(db)
    page = client.submit(f"/jobs/{job.number}/link", {"shows_prices": "y"}, status=422)
    assert "address of this app" in page.alerts
    assert page.tree.xpath("//input[@name='shows_prices']/@checked")


def test_a_machinist_makes_no_links(signed_in, db, job):
    page = signed_in(Role.MACHINIST).page(f"/jobs/{job.number}")
    assert "Create private link" not in page.links
