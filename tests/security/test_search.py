"""SQL in every search, filter and field: taken as words, whatever it says.

Guard: every statement is SQLAlchemy's, with bound values; `customers.contains` escapes % and _.
"""

from __future__ import annotations

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.services import customers
from tests.factories import create_customer
from tests.security.furnished import Furnished, rules
from tests.security.test_rights import everything_in
from tests.web.client import Client

SQL = (
    "'", '"', "';--", "' OR '1'='1", "\" OR \"\"=\"", "1); DROP TABLE job;--", "%", "_", "\\", "%%",
    "' UNION SELECT login, password_hash FROM person--",
    "x' AND 1=CAST((SELECT version()) AS int)--",
    "1;SELECT pg_sleep(5)", "') OR randomblob(1000000000)--", "\\'; --", "$$", ":name", "?", "@x",
    "E'\\x27'", "/* */", "0x27", "NULL", "x' COLLATE NOCASE--", "*", "%' ESCAPE '", "🙂' --",
)  # fmt: skip
FILTERS = ("q", "like", "head", "operation", "side", "stage", "over", "s", "range", "code", "next",
           "from", "to", "kind", "state", "page", "customer", "engine", "after", "kin", "way", "at",
           "skip", "sort", "lift")  # fmt: skip


@pytest.mark.parametrize("words", SQL)
def test_every_filter_of_every_page_takes_sql_for_words(
    web_app: Flask, client: Client, db: Session, furnished: Furnished, words: str
):
    query = dict.fromkeys(FILTERS, words)
    for rule in rules(web_app):
        if "GET" in rule.methods and not rule.endpoint.startswith(("papers", "static", "assets")):
            answer = client.get(furnished.address(rule), query_string=query)
            assert answer.status_code < 500, rule.endpoint
            assert b"scrypt:" not in answer.data, rule.endpoint


def test_sql_in_every_search_finds_nothing_and_changes_nothing(
    client: Client, db: Session, furnished: Furnished
):
    before = everything_in(db)
    for address in ("/search", "/customers", "/jobs", "/look-up", "/engines"):
        for words in SQL:
            page = client.get(address, query_string={"q": words})
            assert page.status_code == 200
            if "SELECT" in words or "DROP" in words:
                assert furnished.job.customer.name not in page.text, (address, words)
    assert everything_in(db) == before


def test_wildcards_are_letters(client: Client, db: Session, furnished: Furnished):
    create_customer(db, name="Fifty_fifty 100% Motors")
    found = [one.name for one in customers.everyone(db, "100%")]
    assert found == ["Fifty_fifty 100% Motors"]
    assert [one.name for one in customers.everyone(db, "y_f")] == found
    assert customers.everyone(db, "%%%") == []


@pytest.mark.parametrize("words", SQL)
def test_sql_is_no_login(stranger: Client, words: str):
    page = stranger.submit("/sign-in", {"login": words, "password": words}, status=422)
    assert "do not go together" in page.alerts
