"""A customer's link opens its own job's page and what that page shows, and nothing else.

Guards: `customer_view.routes._opened` (the secret's digest must be on file, not revoked, not run
out) and `customer_view` (what is asked for must stand on that job's page). With either taken out,
what is refused here is answered.
"""

from __future__ import annotations

import hashlib
import sqlite3
from datetime import timedelta

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.models import CustomerLink, JobFile
from shopflow.services.actor import Actor
from shopflow.services.registry import customer_links
from tests.security.one_of_everything import WEB, OneOfEverything, rules, takes
from tests.web.client import Client

THINGS = ("certificate", "file", "thumbnail", "invoice", "electronic invoice")


def things_of(everything: OneOfEverything) -> dict[str, str]:
    """Everything of a job that its link may show, by what it is, as the end of a path."""
    certificate = everything.places["customer_view number"]
    shown = everything.places["file_id"]
    invoice = everything.places["customer_view.invoice number"]
    return {
        "page": "",
        "certificate": f"/certificate/{certificate}/1.pdf",
        "file": f"/file/{shown}",
        "thumbnail": f"/file/{shown}/small",
        "invoice": f"/invoice/{invoice}.pdf",
        "electronic invoice": f"/invoice/{invoice}.xml",
    }


@pytest.mark.parametrize("thing", THINGS)
def test_a_link_shows_its_own_things_and_no_one_elses(
    stranger: Client,
    everything: OneOfEverything,
    everything_of_another: OneOfEverything,
    thing: str,
):
    for mine, theirs in ((everything, everything_of_another), (everything_of_another, everything)):
        assert stranger.get(mine.link + things_of(mine)[thing]).status_code == 200
        assert stranger.get(mine.link + things_of(theirs)[thing]).status_code == 404


def test_a_page_names_nothing_of_another_customer(
    stranger: Client, everything: OneOfEverything, everything_of_another: OneOfEverything
):
    page = stranger.page(everything.link).response.text
    for secret in (
        everything_of_another.job.number,
        everything_of_another.job.customer.name,
        everything_of_another.link.rpartition("/")[2],
    ):
        assert secret not in page


def test_what_is_not_shown_to_the_customer_opens_by_no_link(
    stranger: Client, everything: OneOfEverything, db: Session
):
    hidden = everything.places["hidden file_id"]
    for path in (f"/file/{hidden}", f"/file/{hidden}/small"):
        assert stranger.get(everything.link + path).status_code == 404
    db.get_one(JobFile, int(hidden)).shown_to_customer = True
    assert stranger.get(f"{everything.link}/file/{hidden}").status_code == 200


def test_identifiers_beside_the_right_ones_open_nothing(
    stranger: Client, everything: OneOfEverything
):
    shown = int(everything.places["file_id"])
    number = everything.places["customer_view number"]
    beside = [f"/file/{key}" for key in (0, -1, shown + 2, 2**31 - 1, 2**31, 10**40, "x", "1.0")]
    beside += [f"/file/{key}/small" for key in (0, -1, shown + 2, 2**63, "%00")]
    beside += [f"/certificate/{number}/{key}.pdf" for key in (0, 2, -1, 2**31, "x")]
    beside += [f"/certificate/{key}/1.pdf" for key in ("FC-2026-9999", "%00", "..", "A" * 3000)]
    beside += ["/file/../../../secret.key", "/file/%2e%2e%2fsecret.key"]
    for path in beside:
        assert stranger.get(everything.link + path).status_code == 404, path


@pytest.mark.parametrize("thing", ["page", *THINGS])
def test_a_secret_that_is_nearly_right_opens_nothing(
    stranger: Client,
    everything: OneOfEverything,
    everything_of_another: OneOfEverything,
    thing: str,
):
    token, other = (row.link.rpartition("/")[2] for row in (everything, everything_of_another))
    mixed = token[:20] + other[20:]
    digest = hashlib.sha256(token.encode()).hexdigest()
    wrong = [token[:-1], token + "A", token.swapcase(), token[::-1], mixed, digest, "0", "None"]
    wrong += ["%00", f"{token}%00", f"{token}%20", "' OR 1=1--", "%25", "_" * len(token)]
    for guess in wrong:
        answer = stranger.get(f"/c/{guess}{things_of(everything)[thing]}")
        assert answer.status_code == 404, guess


@pytest.mark.parametrize("thing", ["page", *THINGS])
def test_a_link_revoked_or_run_out_opens_nothing(
    stranger: Client, everything: OneOfEverything, db: Session, thing: str
):
    long_ago = Actor(None, Actor.now(None).at - timedelta(days=8))
    _, address = customer_links.make(db, long_ago, everything.job, days=7)
    assert stranger.get(address.removeprefix(WEB) + things_of(everything)[thing]).status_code == 404
    row = db.get_one(CustomerLink, int(everything.places["link_id"]))
    customer_links.revoke(db, long_ago, row)
    assert stranger.get(everything.link + things_of(everything)[thing]).status_code == 404


def test_a_link_is_no_sign_in(web_app: Flask, stranger: Client, everything: OneOfEverything):
    """Whoever opened a private page is still nobody everywhere else."""
    stranger.page(everything.link)
    token = everything.link.rpartition("/")[2]
    for rule in rules(web_app):
        if rule.endpoint.startswith(("attachments.", "papers.", "jobs.", "customers.")):
            if not takes(rule, "GET"):
                continue
            address = everything.address(rule)
            for query in ({}, {"token": token}):
                answer = stranger.get(
                    address, query_string=query, headers={"Authorization": f"Bearer {token}"}
                )
                assert answer.status_code == 302
                assert answer.headers["Location"].startswith("/sign-in")
    with stranger.session_transaction() as session:
        session["login"] = token
    assert stranger.get("/").status_code == 302


def test_the_secret_is_in_no_table(everything: OneOfEverything, db: Session):
    """Guard: `links.make` stores the SHA-256 alone, and a queued message holds it sealed."""
    token = everything.link.rpartition("/")[2]
    connection = db.connection().connection.dbapi_connection
    assert isinstance(connection, sqlite3.Connection)
    dump = "\n".join(connection.iterdump())
    assert hashlib.sha256(token.encode()).hexdigest() in dump
    assert token not in dump
