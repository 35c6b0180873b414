"""SQL in every search, filter and field: taken as words, whatever it says.

Guard: every statement is SQLAlchemy's, with bound values; `customers.contains` escapes % and _.
"""

from __future__ import annotations

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.services.search import search
from tests.factories import create_head
from tests.security.one_of_everything import OneOfEverything, rules, takes
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


def later_long(*cases: object) -> list[object]:
    """The first case runs with the suite, the others in the long run."""
    return [cases[0], *(pytest.param(case, marks=pytest.mark.long) for case in cases[1:])]


@pytest.mark.slow
@pytest.mark.parametrize("turn", later_long(*range(len(SQL))))
def test_every_filter_of_every_page_takes_sql_for_words(
    web_app: Flask, client: Client, db: Session, everything: OneOfEverything, turn: int
):
    """Each filter another of the words; over all turns each of them in each filter."""
    query = {name: SQL[(index + turn) % len(SQL)] for index, name in enumerate(FILTERS)}
    for rule in rules(web_app):
        if takes(rule, "GET") and not rule.endpoint.startswith(("papers", "static", "assets")):
            answer = client.get(everything.address(rule), query_string=query)
            assert answer.status_code < 500, rule.endpoint
            assert b"scrypt:" not in answer.data, rule.endpoint


def test_sql_in_every_search_finds_nothing_and_changes_nothing(
    client: Client, db: Session, everything: OneOfEverything
):
    before = everything_in(db)
    for address in ("/search", "/customers", "/look-up", "/engines"):
        for words in SQL:
            page = client.get(address, query_string={"q": words})
            assert page.status_code == 200
            if "SELECT" in words or "DROP" in words:
                assert everything.job.customer.name not in page.text, (address, words)
    assert everything_in(db) == before


def test_wildcards_are_letters(db: Session):
    """Guard: `customers.contains` escapes % and _ in what every LIKE is given."""
    head = create_head(db, notes="clean to 90% here")
    create_head(db, notes="clean to 90 thou here")
    matches = [hit.key for hit in search.everything(db, "90% here") if hit.kind == "head"]
    assert matches == [str(head.id)]
    assert not [hit for hit in search.everything(db, "t_ 90% here") if hit.kind == "head"]


@pytest.mark.parametrize("words", later_long(*SQL[3:], *SQL[:3]))
def test_sql_is_no_login(stranger: Client, words: str):
    page = stranger.submit("/sign-in", {"login": words, "password": words}, status=422)
    assert "Wrong user name or password" in page.alerts
