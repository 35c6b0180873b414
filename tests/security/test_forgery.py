"""Attacks from another site: forged posts, fixed sessions, redirects, frames."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.models import Role
from shopflow.web.rights import BY_TOKEN, RIGHTS
from tests.factories import PASSWORD
from tests.security.one_of_everything import OneOfEverything, rules, takes
from tests.security.test_rights import everything_in
from tests.web.client import Client

pytestmark = pytest.mark.slow

GOOD = {"login": "owner", "password": PASSWORD}


@pytest.mark.parametrize(
    "token",
    [None, "borrowed", *(pytest.param(item, marks=pytest.mark.long) for item in ("", "x"))],
    ids=str,
)
def test_no_post_is_done_without_the_pages_own_token(
    web_app: Flask,
    client: Client,
    signed_in: Callable[[Role], Client],
    db: Session,
    everything: OneOfEverything,
    token: str | None,
):
    """Guard: `auth.csrf` (Flask-WTF's CSRFProtect), over every view. Without it, posts are done."""
    if token == "borrowed":
        page = signed_in(Role.OWNER).page("/me")
        token = page.tree.xpath("//input[@name='csrf_token']/@value")[0]
    client.page("/me")
    before = everything_in(db)
    data = {} if token is None else {"csrf_token": token}
    # A program's token is no cookie: no other site has a browser send it.
    posting = [
        rule for rule in rules(web_app) if takes(rule, "POST") and rule.endpoint not in BY_TOKEN
    ]
    assert len(posting) > 60
    for rule in posting:
        address = everything.address(rule)
        answer = client.post(address, data=data)
        assert answer.status_code == 400, address
        in_query = client.post(address, query_string=data)
        assert in_query.status_code == 400, address
    assert everything_in(db) == before


def test_a_get_changes_nothing(
    web_app: Flask, client: Client, db: Session, everything: OneOfEverything
):
    """Guard: `web.db` opens a GET's session read only, and rolls it back (no act by a link).

    Exports alone leave a line in the log of changes.
    """
    before = everything_in(db)
    for rule in rules(web_app):
        is_export = rule.endpoint.startswith("export.")
        if takes(rule, "GET") and rule.endpoint in RIGHTS and not is_export:
            assert client.get(everything.address(rule)).status_code < 500
            assert client.head(everything.address(rule)).status_code < 500
    assert everything_in(db) == before


def test_a_cookie_from_before_signing_in_is_worth_nothing_after(stranger: Client, web_app: Flask):
    """Guard: `auth.enter` begins a session that shares nothing with the one before."""
    planted = stranger.page("/sign-in").response.headers["Set-Cookie"].split(";")[0]
    stranger.submit("/sign-in", GOOD)
    victim = stranger.get_cookie("shopflow")
    assert victim is not None
    assert victim.value != planted.partition("=")[2]
    attacker = web_app.test_client()
    attacker.set_cookie("shopflow", planted.partition("=")[2])
    assert attacker.get("/").status_code == 302


def test_each_sign_in_has_its_own_secret(stranger: Client, new_client: Callable[[], Client]):
    other = new_client()
    stranger.submit("/sign-in", GOOD)
    other.submit("/sign-in", GOOD)
    with stranger.session_transaction() as mine, other.session_transaction() as theirs:
        assert mine["login"] != theirs["login"]
        assert len(mine["login"]) >= 43  # 256 bits in base64


def test_a_cookie_signed_with_another_key_is_not_believed(web_app: Flask, client: Client):
    """Guard: the cookie is signed with the shop's secret key (itsdangerous, HMAC)."""
    from flask.sessions import SecureCookieSessionInterface

    with client.session_transaction() as session:
        content = dict(session)
    forger = Flask("forger")
    forger.secret_key = "another key"
    serializer = SecureCookieSessionInterface().get_signing_serializer(forger)
    assert serializer is not None
    attacker = web_app.test_client()
    attacker.set_cookie("shopflow", serializer.dumps(content))
    assert attacker.get("/").status_code == 302


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://elsewhere.test/", "//elsewhere.test/", "///elsewhere.test", "/\\elsewhere.test/",
        "\\/elsewhere.test", "/\t/elsewhere.test/", "/\r\nLocation: https://elsewhere.test",
        "javascript:alert(1)", "data:text/html,x", "http:elsewhere.test", "/%09/elsewhere.test",
        "/\x00/elsewhere.test", " //elsewhere.test", "https:/elsewhere.test", "@elsewhere.test",
        ".elsewhere.test", "//elsewhere.test%2f@localhost/",
    ],
)  # fmt: skip
@pytest.mark.parametrize("door", ["/sign-in", "/confirm"])
def test_no_door_leads_to_another_server(
    stranger: Client, client: Client, door: str, elsewhere: str
):
    """Guard: `account.routes._OWN_PAGE`. Without it, Location is what was asked for."""
    visitor = stranger if door == "/sign-in" else client
    answer = visitor.get(door, query_string={"next": elsewhere})
    token = answer.text.split('name="csrf_token" value="')[1].split('"')[0]
    data = {**GOOD, "csrf_token": token}
    answer = visitor.post(answer.request.full_path, data=data)
    assert answer.status_code == 302
    location = answer.headers["Location"]
    assert location.startswith("/")
    assert not location.startswith(("//", "/\\"))
    assert location == "/" or "/%09/" in location
