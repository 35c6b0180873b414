"""Parts that all pages share: permissions, headers, errors, the one commit, formatting."""

from __future__ import annotations

import re
import threading
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from flask import Flask, g, request, url_for
from sqlalchemy import text
from werkzeug.routing import AnyConverter

from shopflow.models import JobState, Role
from shopflow.services.registry import customers
from shopflow.units import Quantity
from shopflow.web import filters
from shopflow.web.db import db as request_db
from shopflow.web.health import SENDER
from shopflow.web.rights import BY_TOKEN, OPEN, RIGHTS
from tests.factories import BY, create_customer, create_job
from tests.optional import present
from tests.security.one_of_everything import takes
from tests.web.checking import faults_of
from tests.web.client import Client


def a_request(app: Flask, endpoint: str) -> tuple[str, str]:
    """Method and address of an endpoint, its parts filled with what names nothing."""
    rule = next(app.url_map.iter_rules(endpoint))
    parts: dict[str, Any] = {}
    for name in rule.arguments:
        converter = rule._converters[name]
        parts[name] = (
            next(iter(converter.items)) if isinstance(converter, AnyConverter) else 999_999
        )
    with app.test_request_context():
        address = url_for(endpoint, **parts)
    return ("GET" if takes(rule, "GET") else "POST"), address


def ask(client: Client, method: str, address: str) -> int:
    if method == "GET":
        return client.get(address).status_code
    match = re.search('name="csrf_token" value="([^"]+)"', client.get("/me").text)
    token = present(match)[1]
    return client.post(address, data={"csrf_token": token}).status_code


def test_every_endpoint_has_its_row_in_the_table_of_rights(web_app):
    endpoints = {rule.endpoint for rule in web_app.url_map.iter_rules()}
    assert endpoints - set(RIGHTS) - OPEN - BY_TOKEN == set(), "an endpoint without rights"
    assert set(RIGHTS) - endpoints == set(), "rights to nothing"
    assert (OPEN | BY_TOKEN) - endpoints == set()
    assert not BY_TOKEN & (OPEN | set(RIGHTS))
    assert not OPEN & set(RIGHTS)


@pytest.mark.parametrize("endpoint", sorted(RIGHTS))
def test_a_page_is_open_to_the_roles_in_its_row_and_shut_to_the_others(
    web_app, signed_in, stranger, endpoint
):
    method, address = a_request(web_app, endpoint)
    for role in Role:
        status = ask(signed_in(role), method, address)
        assert (status == 403) == (role not in RIGHTS[endpoint]), (role, status)
    if method == "GET":
        answer = stranger.get(address)
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith("/sign-in")


def test_a_stranger_may_post_nothing(web_app, stranger):
    page = stranger.page("/sign-in")
    token = page.tree.xpath("//main//input[@name='csrf_token']/@value")[0]
    for rule in web_app.url_map.iter_rules():
        if takes(rule, "POST") and rule.endpoint not in OPEN | BY_TOKEN:
            _, address = a_request(web_app, rule.endpoint)
            answer = stranger.post(address, data={"csrf_token": token})
            assert answer.headers["Location"] == "/sign-in", rule.endpoint


def test_no_post_is_taken_without_its_token(web_app, client):
    for rule in web_app.url_map.iter_rules():
        if takes(rule, "POST") and rule.endpoint not in BY_TOKEN:
            _, address = a_request(web_app, rule.endpoint)
            answer = client.post(address, data={"name": "x"})
            assert answer.status_code == 400, rule.endpoint
            assert "This page has expired" in answer.text


def test_pages_forbid_what_they_do_not_need(client):
    headers = client.get("/").headers
    assert headers["Content-Security-Policy"] == (
        "default-src 'self'; object-src 'none'; base-uri 'none'; "
        "frame-ancestors 'none'; form-action 'self'"
    )
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cache-Control"] == "private, no-cache"
    assert "Strict-Transport-Security" not in headers


def test_style_sheets_scripts_and_the_typeface_are_served_to_be_kept(client):
    page = client.get("/").text
    for address in re.findall('(?:href|src)="(/static/[^"]+)"', page):
        answer = client.get(address)
        assert answer.status_code == 200
        assert "v=" in address
        assert "max-age=31536000" in answer.headers["Cache-Control"]
    sheet = client.get("/static/css/base.css").text
    for address in re.findall(r'url\("([^"]+)"\)', sheet):
        answer = client.get(address)
        assert answer.mimetype == "font/woff2"
        assert "max-age=31536000" in answer.headers["Cache-Control"]
    assert client.get("/fonts/Comic.woff2").status_code == 404


def test_no_style_sheet_or_script_reaches_elsewhere(web_app):
    files = Path(web_app.static_folder).rglob("*.*")
    for file in (path for path in files if path.suffix != ".png"):
        words = file.read_text(encoding="utf-8")
        assert not re.search(r"(?<!xmlns=\")https?://", words), file
        assert "@import" not in words


def test_the_bar_says_where_one_is(client):
    page = client.page("/customers/new")
    here = page.tree.xpath("//header//a[@aria-current]")
    # In the bar, and in the menu of all pages.
    assert [item.text for item in here] == ["Customers", "Customers"]
    (skip,) = page.tree.xpath("//a[@class='skip']")
    assert skip.get("href") == "#main"


def test_the_bar_offers_only_what_one_may_open(signed_in):
    words = {role: signed_in(role).page("/").tree.find(".//header").text_content() for role in Role}
    assert "Book in" in words[Role.COUNTER]
    assert "Book in" not in words[Role.READER]
    assert "Shop settings" in words[Role.OWNER]
    assert "Shop settings" not in words[Role.COUNTER]


@pytest.mark.parametrize(
    "address", ["/nope", "/customers/", "/customers/x", "/customers/-1", "/jobs/%00", "/%ff"]
)
def test_an_address_of_nothing_is_not_found(client, address):
    assert client.page(address, status=404).heading == "Page not found"


def test_a_number_too_large_for_the_database_is_not_found(client):
    assert client.page(f"/customers/{10**30}", status=404).heading == "Page not found"


def test_a_method_not_taken_is_refused_in_words(client):
    answer = client.get("/sign-out")
    assert answer.status_code == 405
    assert answer.headers["Allow"]
    assert "Wrong kind of request" in answer.text


def test_too_much_at_once_is_refused_in_words(client):
    answer = client.post("/customers/new", data={"notes": "x" * (8 * 1024 * 1024 + 1)})
    assert answer.status_code == 413
    assert "up to 8 MB at once" in answer.text


def test_a_break_of_ours_is_owned_up_to_without_details(client, web_app, db, monkeypatch):
    monkeypatch.setattr(web_app, "testing", False)
    for table in ("customer", "person", "shop"):
        db.execute(text(f"ALTER TABLE {table} RENAME TO elsewhere_{table}"))
    page = client.page("/customers", status=500)
    assert page.heading == "Something went wrong on the server"
    assert "elsewhere" not in page.response.text
    assert "sqlite" not in page.response.text.lower()


def test_the_health_page_answers_without_signing_in(stranger):
    assert stranger.get("/health").text == "ok\n"


def test_the_health_page_says_503_where_the_mail_sender_has_ended(stranger, web_app):
    sender = threading.Thread(target=lambda: None)
    sender.start()
    sender.join()
    web_app.extensions[SENDER] = sender
    try:
        answer = stranger.get("/health")
    finally:
        del web_app.extensions[SENDER]
    assert answer.status_code == 503
    assert answer.text == (
        "The mail sender has stopped: restart shopflow. Messages wait in the outbox.\n"
    )


def test_a_page_can_be_read_while_another_writes(client, db):
    client.release_writes = None
    create_customer(db, name="Not yet there")
    page = client.page("/customers")
    assert "Not yet there" not in page.text
    db.commit()
    assert "Not yet there" in client.page("/customers").text


def test_a_post_that_is_refused_leaves_nothing(client, db, web_app):
    def meddle():
        if request.method == "POST":
            customers.create(request_db(), BY, {"name": "Half done"})

    web_app.before_request_funcs[None].append(meddle)
    try:
        client.submit("/customers/new", {"name": ""}, status=422)
        assert customers.list_all(db) == []
        client.submit("/customers/new", {"name": "Whole"})
        assert [customer.name for customer in customers.list_all(db)] == ["Half done", "Whole"]
    finally:
        web_app.before_request_funcs[None].remove(meddle)


def test_what_the_database_itself_refuses_is_told_in_words(client, db):
    # As another writer's row would, put in between our check and our save.
    refuse = "SELECT RAISE(ABORT, 'UNIQUE constraint failed: customer.name')"
    db.execute(text(f"CREATE TRIGGER quicker BEFORE INSERT ON customer BEGIN {refuse}; END"))
    page = client.submit("/customers/new", {"name": "Wren Motors"}, status=409)
    assert page.heading == "Someone else saved first"
    assert customers.list_all(db) == []


@pytest.mark.parametrize(
    ("html", "fault"),
    [
        ("<p><div></div></p>", "<div> in <p>"),
        ("<ul><li>one</ul>", "</ul> closes li"),
        ('<i id="a"></i><i id="a"></i>', "id 'a' is given twice"),
        ('<b style="color:red">x</b>', "inline style"),
        ("<script>go()</script>", "inline script"),
        ('<a href="x" onclick="go()">x</a>', "onclick"),
        ("<h1>two</h1>", "2 h1"),
        ("<h4>deep</h4>", "h4 follows h1"),
        ('<input name="x">', "field x has no label"),
        ('<label for="gone">x</label>', 'for="gone" points nowhere'),
        ('<form method="post"></form>', "no CSRF token"),
        ("<form><form></form></form>", "<form> in <form>"),
        ('<img src="x">', "a picture without words"),
    ],
)
def test_the_check_of_pages_finds_what_is_wrong(html, fault):
    page = f'<!doctype html><html lang="en"><title>t</title><h1>t</h1>{html}</html>'
    assert any(fault in answer for answer in faults_of(page)), faults_of(page)
    assert faults_of(page.replace(html, "")) == []


@pytest.fixture
def in_a_request(web_app, shop, db):
    """Inside a request, where filters know the shop."""
    db.commit()
    with web_app.test_request_context():
        yield shop


def test_figures_are_shown_in_the_shops_units(in_a_request):
    # 1 cfm = 4.719474e-4 m3/s (NIST SP 811).
    assert filters.figure(0.1, "flow") == "211.9 cfm"
    assert filters.number(None, "flow") == "–"
    assert filters.unit("test pressure") == "inH₂O"


@pytest.mark.parametrize(
    ("filter_", "value", "shown"),
    [
        (filters.money, Decimal("1250"), "$1,250.00"),
        (filters.money, Decimal("-0.5"), "−$0.50"),
        (filters.money, None, "–"),
        (filters.percent, 6.25, "+6.2 %"),
        (filters.percent, -1.0, "−1.0 %"),
        (filters.percent, None, "–"),
        (filters.day, date(2026, 3, 5), "Mar 5, 2026"),
        # Chicago is six hours behind in winter and five in summer.
        (filters.day, datetime(2026, 1, 1, 5, 59, tzinfo=UTC), "Dec 31, 2025"),
        (filters.moment, datetime(2026, 7, 1, 12, 0, tzinfo=UTC), "Jul 1, 2026, 07:00"),
        (filters.moment, datetime(2026, 1, 1, 12, 0, tzinfo=UTC), "Jan 1, 2026, 06:00"),
        (filters.typed, Quantity("44.50 mm", 0.0445), "44.50 mm"),
        (filters.typed, Quantity("342 in3", 0.0056), "342 in³"),
        (filters.typed, None, "–"),
        (filters.plain, JobState.IN_WORK, "in work"),
        (filters.plain, "", "–"),
        (filters.plain, 0, "0"),
    ],
)
def test_values_are_shown_in_words_no_one_misreads(in_a_request, filter_, value, shown):
    assert filter_(value) == shown


def test_an_unusual_currency_is_named_by_its_code(in_a_request, db):
    in_a_request.currency = "SEK"
    g.shop = in_a_request
    assert filters.money(Decimal("10")) == "SEK 10.00"


def test_a_job_of_a_customer_is_reached_from_the_floor(client, db):
    job = create_job(db)
    assert f"{job.number}-A" in client.page("/").links


@pytest.mark.parametrize(
    ("earlier", "now"),
    [
        ("/sums", "/calculators"),
        ("/sessions/7?plot=velocity", "/flow-tests/7?plot=velocity"),
        ("/operations/3/sign-off", "/steps/3/sign-off"),
        ("/waits//elsewhere.example", "/holds//elsewhere.example"),
    ],
)
def test_an_address_of_an_earlier_release_leads_on(client, earlier, now):
    answer = client.get(earlier)
    assert (answer.status_code, answer.location) == (301, now)
    assert client.get(f"{earlier}\r\nX: y").status_code in {301, 404}
