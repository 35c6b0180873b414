"""Pages in the language that the shop chose: spelling, and order of dates."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from flask import Flask, message_flashed
from sqlalchemy import text
from sqlalchemy.orm import Session

from shopflow import texts
from shopflow.models import Customer
from shopflow.services.actor import Actor
from shopflow.services.registry import customer_links
from shopflow.services.shop import settings
from tests import factories
from tests.factories import BY
from tests.web.client import Client

MARCH_5 = datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
SPOKEN = [
    ("en_US", "en-US", "Bar color", "Mar 5, 2026"),
    ("en_GB", "en-GB", "Bar colour", "5 Mar 2026"),
]


@pytest.fixture
def customer(db: Session) -> Customer:
    """A customer on record since 5 March 2026."""
    new_customer = factories.create_customer(db)
    new_customer.created_at = MARCH_5
    return new_customer


def assert_spoken(client: Client, customer: Customer, lang: str, bar: str, since: str) -> None:
    """Check the words, the dates and the declared language of pages."""
    style = client.page("/shop/house-style")
    assert bar in style.text
    assert style.tree.get("lang") == lang
    assert f"Customer since {since}" in client.page(f"/customers/{customer.id}").text
    assert client.page("/nothing-here", status=404).tree.get("lang") == lang


@pytest.mark.source("Unicode CLDR: order of a date in American and British English")
@pytest.mark.parametrize(("language", "lang", "bar", "since"), SPOKEN)
def test_a_setting_changes_words_and_dates_from_the_next_page_on(
    client: Client, customer: Customer, language: str, lang: str, bar: str, since: str
):
    assert client.submit("/shop", {"language": language}).value("language") == language
    assert_spoken(client, customer, lang, bar, since)


def test_a_shop_speaks_american_until_it_chooses_and_can_go_back(
    client: Client, customer: Customer
):
    american, british = (row[1:] for row in SPOKEN)
    assert_spoken(client, customer, *american)
    client.submit("/shop", {"language": "en_GB"})
    assert_spoken(client, customer, *british)
    client.submit("/shop", {"language": "en_US"})
    assert_spoken(client, customer, *american)


@pytest.mark.parametrize("language", ["en_GB", "en_US"])
def test_the_notice_that_a_language_is_saved_is_in_that_language(client: Client, language: str):
    client.submit("/shop", {"language": "en_GB" if language == "en_US" else "en_US"})
    languages: list[str] = []

    def note_language(sender: Flask, message: str, category: str) -> None:
        languages.append(texts.language())

    with message_flashed.connected_to(note_language):
        client.submit("/shop", {"language": language})
    assert languages == [language]


def test_an_error_at_a_field_is_in_the_shops_language(client: Client):
    client.submit("/shop", {"language": "en_GB"})
    page = client.submit("/shop/house-style", {"accent": "#cccccc"}, status=422)
    assert "choose a darker colour" in page.fault("accent")


def test_a_language_that_is_not_offered_is_refused(client: Client):
    token = client.page("/shop").value("csrf_token")
    answer = client.post("/shop", data={"csrf_token": token, "language": "en_AU"})
    assert answer.status_code == 422
    assert client.page("/shop").value("language") == "en_US"


def test_a_page_for_strangers_is_in_the_shops_language(client: Client, stranger: Client):
    client.submit("/shop", {"language": "en_GB"})
    assert stranger.page("/sign-in").tree.get("lang") == "en-GB"


def test_the_page_of_a_break_is_in_the_shops_language(
    client: Client, web_app: Flask, db: Session, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(web_app, "testing", False)
    client.submit("/shop", {"language": "en_GB"})
    db.execute(text("ALTER TABLE customer RENAME TO elsewhere_customer"))
    assert client.page("/customers", status=500).tree.get("lang") == "en-GB"


def test_a_private_page_and_its_preview_are_in_the_customers_language(
    client: Client, stranger: Client, db: Session
):
    settings.change(db, BY, settings.get_shop(db), {"web_address": "https://heads.example"})
    buyer = factories.create_customer(db, language="en_GB")
    job = factories.create_job(db, buyer, promised_on="2026-04-01")
    _, address = customer_links.make(db, Actor.now(None), job)
    path = address.removeprefix("https://heads.example")
    for page in (stranger.page(path), client.page(f"/jobs/{job.number}/as-customer")):
        assert "1 Apr 2026" in page.text
        assert page.tree.get("lang") == "en-GB"
    assert stranger.page("/sign-in").tree.get("lang") == "en-US"
    buyer.language = ""
    assert "Apr 1, 2026" in stranger.page(path).text


def test_no_language_is_left_to_what_comes_after_a_request(client: Client):
    client.submit("/shop", {"language": "en_GB"})
    assert texts.language() == texts.SOURCE
