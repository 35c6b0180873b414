"""One box over everything."""

from __future__ import annotations

import pytest

from shopflow import issuing
from shopflow.files import FileStore
from shopflow.models import Role
from shopflow.services.billing import quotes
from shopflow.services.registry import customers, heads
from shopflow.services.routing import holds
from tests.factories import (
    BY,
    create_customer,
    create_engine_type,
    create_job,
    create_mailbox,
    create_operation,
    queue_mail,
    someone,
)


@pytest.fixture
def job(db):
    """A job to be found again."""
    engine_type = create_engine_type(db, builder="Hollin", family="K18-T", aliases="the eighteen")
    customer = create_customer(db, name="Orla Finch", phone="555 0142")
    job = create_job(db, customer, engine_type, asked_for="Seats for the hill climb")
    heads.change(db, BY, job.heads[0].head, {"casting_number": "DXF 771"})
    return job


def test_the_box_is_on_every_page_and_keeps_what_was_asked(client, job):
    page = client.page("/search?q=finch")
    (box,) = page.tree.xpath("//header//input[@name='q']")
    assert box.value == "finch"
    assert client.page("/").tree.xpath("//header//form/@action") == ["/search", "/sign-out"]


@pytest.mark.parametrize(
    ("text", "heading"),
    [
        ("finch", "Customers"),
        ("555 0142", "Customers"),
        ("hill climb", "Jobs"),
        ("the eighteen", "Engine types"),
        ("DXF 771", "Heads"),
    ],
)
def test_things_are_found_by_kind(client, job, text, heading):
    page = client.page(f"/search?q={text}")
    assert heading in [item.text for item in page.tree.findall(".//h2")]


def test_each_hit_leads_to_its_page(client, job):
    links = {**client.page("/search?q=finch").links, **client.page("/search?q=Hollin").links}
    assert links["Orla Finch"] == f"/customers/{job.customer_id}"
    assert links[job.number].endswith(job.number)
    engine_type = job.heads[0].head.engine_type
    assert links["Hollin K18-T"] == f"/engines/{engine_type.id}"
    heads = client.page("/search?q=DXF 771").links
    head = job.heads[0].head
    assert heads[head.identity] == f"/heads/{head.id}"


def test_nothing_found_is_said(client, job):
    assert "No records match" in client.page("/search?q=zeppelin").text


def test_an_empty_search_says_what_can_be_typed(client):
    assert "a job number, a label number, a name" in client.page("/search").text


@pytest.mark.parametrize(
    "text", ["%", "' OR 1=1 --", "\\", "\x00", "<script>alert(1)</script>", "a" * 5000]
)
def test_strange_text_is_only_text(client, job, text):
    answer = client.get("/search", query_string={"q": text})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.text


def issued_papers(db, job):
    """A quote and an invoice of the job."""
    by = someone(db, "Orla Marsh", Role.OWNER)
    step = create_operation(db, job.heads[0], price="99.50")
    quote = issuing.give_quote(db, by, job, {})
    quotes.approve(db, by, quote, "Orla Finch", "telephone")
    return quote, issuing.issue_invoice(db, by, job, [step.id])


def test_quotes_and_invoices_are_found_by_their_numbers(client, db, job):
    quote, invoice = issued_papers(db, job)
    links = client.page(f"/search?q={quote.number}").links
    assert links[quote.number] == f"/papers/quote/{quote.number}/1.pdf"
    loose = invoice.number.lower().replace("-", " ")
    links = client.page("/search?q=" + loose.replace(" ", "+")).links
    assert links[invoice.number] == f"/invoices/{invoice.number}"


def test_customers_are_found_by_notes_and_by_whom_to_ask_for(client, db, job):
    customer = job.customer
    customers.change(db, BY, customer, {"notes": "Pays by cheque on Fridays"})
    customers.add_contact(db, BY, customer, {"name": "Tove Lund", "phone": "555-0199"})
    for text in ("cheque", "tove", "5550199", "555 0199"):
        assert "Orla Finch" in client.page(f"/search?q={text}").links, text
    page = client.page("/search?q=tove")
    assert "Tove Lund, 555 0142" in page.text


def test_a_slip_in_a_name_is_forgiven(client, job):
    # One letter off: "Orla Finch" is meant.
    assert "Orla Finch" in client.page("/search?q=orla finsch").links


def test_messages_are_found_by_the_office_alone(client, signed_in, db, job, tmp_path):
    create_mailbox(db)
    queue_mail(db, FileStore(tmp_path), job, subject="Your seats are cut")
    page = client.page("/search?q=seats are cut")
    assert page.links["Your seats are cut"].startswith("/outbox/")
    assert "Messages" not in signed_in(Role.MACHINIST).page("/search?q=seats are cut").text


def test_what_is_waited_for_leads_to_its_head(client, db, job):
    visit = job.heads[0]
    wait = holds.begin(db, BY, visit, {"wait_for": "parts", "what": "Bronze guides, 16"})
    assert client.page("/search?q=bronze").links[visit.tag] == f"/heads/{visit.tag}"
    holds.end(db, BY, wait)
    assert "Waiting" not in client.page("/search?q=bronze").text


def test_a_tag_and_a_serial_lead_to_the_job_and_the_head(client, job):
    visit = job.heads[0]
    assert job.number in client.page(f"/search?q={visit.tag}").links
    assert visit.head.identity in client.page(f"/search?q={visit.head.serial}").links


def test_the_key_to_the_box_is_shown_and_can_be_turned_off(client):
    box = "//header//input[@name='q']/@aria-keyshortcuts"
    assert client.page("/").tree.xpath(box) == ["/"]
    assert client.page("/").tree.xpath("//header//kbd/text()") == ["/"]
    page = client.press("/me", "Turn off shortcut")
    assert page.notices == ["The / key is off."]
    assert page.tree.xpath(box) == page.tree.xpath("//header//kbd") == []
    assert "The / key is off" in client.page("/search").text
    page = client.press("/me", "Turn on shortcut")
    assert page.tree.xpath(box) == ["/"]
