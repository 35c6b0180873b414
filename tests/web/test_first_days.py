"""The checklist of the first days and the practice job in the browser."""

from __future__ import annotations

from shopflow.models import Role
from shopflow.services.counter import practice
from tests.factories import create_job


def test_an_empty_shop_shows_the_checklist_and_a_way_to_practice(client, db):
    page = client.page("/")
    assert "First days" in page.text
    assert page.text.count("to do") > 5
    assert page.links["Flow bench"] == "/benches/new"
    page = client.press(page, "Start practice job")
    assert page.heading == "Job PRACTICE"
    assert "Nothing with a number is issued on it" in page.text
    assert "First days: " in client.page("/").text
    page = client.press("/practice-job/discard", "Discard practice job")
    assert "discarded" in page.notices[0]
    assert practice.find(db) is None
    assert client.get("/practice-job/discard").status_code == 404


def test_the_checklist_is_put_away_and_found_again(client, db):
    create_job(db)
    assert "First days: " in client.page("/").text
    page = client.press("/first-days", "Hide checklist")
    assert "First days: " not in page.text
    assert "First days" in {link.text for link in page.tree.xpath("//nav//a")}
    page = client.press("/first-days", "Show on floor")
    assert "First days: " in page.text


def test_only_the_owner_sees_it(signed_in):
    assert "First days" not in signed_in(Role.MACHINIST).page("/").text
