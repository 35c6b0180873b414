"""One box over everything."""

from __future__ import annotations

import pytest

from shopflow.services import heads
from tests.factories import BY, create_customer, create_engine_type, create_job


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
    assert "Nothing on file goes with it" in client.page("/search?q=zeppelin").text


def test_an_empty_search_says_what_can_be_typed(client):
    assert "a job number, a tag, a name" in client.page("/search").text


@pytest.mark.parametrize(
    "text", ["%", "' OR 1=1 --", "\\", "\x00", "<script>alert(1)</script>", "a" * 5000]
)
def test_strange_text_is_only_text(client, job, text):
    answer = client.get("/search", query_string={"q": text})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.text
