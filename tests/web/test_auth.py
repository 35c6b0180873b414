"""Signing in, staying in, and being out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from shopflow import create_app
from shopflow.config import Settings
from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.services.accounts.login_throttle import TRIES
from tests.factories import BY, PASSWORD, create_person
from tests.web.client import Client

GOOD = {"login": "owner", "password": PASSWORD}
PAGE = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
"""Headers of a browser that opens a page."""


def test_signing_in_leads_to_the_floor(stranger):
    page = stranger.submit("/sign-in", GOOD)
    assert page.heading == "Floor"


def test_a_login_is_taken_in_any_case(stranger):
    assert stranger.submit("/sign-in", {**GOOD, "login": " Owner "}).heading == "Floor"


def test_signing_in_leads_on_to_the_page_asked_for(stranger):
    page = stranger.page("/customers?q=finch")
    assert page.heading == "Falling Water Heads"
    assert stranger.submit(page, GOOD).path == "/customers?q=finch"


def test_only_pages_renew_the_cookie(stranger):
    stranger.submit("/sign-in", GOOD)
    opened = stranger.get("/jobs", headers=PAGE)
    assert opened.headers["Set-Cookie"].startswith("shopflow=")
    # Scripts and images ask so, by the Fetch Standard (from memory).
    for accept in ("*/*", "image/avif,image/webp,*/*;q=0.8"):
        answer = stranger.get("/jobs", headers={"Accept": accept})
        assert "Set-Cookie" not in answer.headers
        assert answer.status_code == opened.status_code == 200


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://elsewhere.test/",
        "//elsewhere.test/",
        "/\\elsewhere.test/",
        "\\\\elsewhere.test/",
        "/\t/elsewhere.test/",
        "/\n/elsewhere.test/",
        "javascript:alert(1)",
        "http:elsewhere.test",
        "http://[",
    ],
)
def test_signing_in_never_leads_to_another_server(stranger, elsewhere):
    answer = stranger.get("/sign-in", query_string={"next": elsewhere})
    token = answer.text.split('name="csrf_token" value="')[1].split('"')[0]
    address = answer.request.full_path
    answer = stranger.post(address, data={**GOOD, "csrf_token": token})
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/"


@pytest.mark.parametrize(
    "wrong",
    [
        {"login": "owner", "password": "not the right word"},
        {"login": "nobody", "password": PASSWORD},
        {"login": "", "password": PASSWORD},
        {"login": "owner", "password": "y" * 5000},
    ],
    ids=["password", "login", "no login", "too long"],
)
def test_a_refusal_does_not_say_which_part_was_wrong(stranger, wrong):
    page = stranger.submit("/sign-in", wrong, status=422)
    assert page.alerts == "Not signed in. Wrong user name or password."
    assert page.value("login") == wrong["login"]
    assert not page.value("password")


@pytest.mark.parametrize("login", ["owner\x00", "x" * 5000])
def test_what_cannot_be_a_login_is_refused_at_the_field(stranger, login):
    page = stranger.submit("/sign-in", {"login": login, "password": PASSWORD}, status=422)
    assert page.fault("login")


def test_too_many_failures_make_even_the_right_password_wait(stranger, db):
    for _ in range(TRIES):
        stranger.submit("/sign-in", {**GOOD, "password": "not the right word"}, status=422)
    page = stranger.submit("/sign-in", GOOD, status=422)
    assert "Wait 15 minutes" in page.alerts


def test_an_account_that_was_shut_cannot_be_entered(stranger, db):
    person = create_person(db, Role.MACHINIST, login="gone")
    users.change(db, BY, person, {"active": False})
    stranger.submit("/sign-in", {"login": "gone", "password": PASSWORD}, status=422)


def test_shutting_an_account_ends_its_open_sign_ins(signed_in, db):
    client = signed_in(Role.MACHINIST)
    assert client.page("/").heading == "Floor"
    person = next(user for user in users.list_all(db) if user.role is Role.MACHINIST)
    users.change(db, BY, person, {"active": False})
    assert client.get("/").headers["Location"] == "/sign-in"


def test_signing_out_asks_for_the_password_again(client):
    page = client.press("/", "Sign out")
    assert page.path == "/sign-in"
    assert client.get("/customers").headers["Location"] == "/sign-in?next=/customers"


def test_signing_out_everywhere_ends_the_sign_in_on_the_other_tablet(signed_in):
    here, there = signed_in(Role.COUNTER), signed_in(Role.COUNTER)
    assert there.page("/").heading == "Floor"
    here.press("/me", "Sign out everywhere")
    assert there.get("/").headers["Location"] == "/sign-in"


def test_a_cookie_of_no_person_is_not_believed(stranger):
    for identity in ("999.1", "1.99", "x", "1", ".", "1.1.1", "1.1", "1.1.x", f"1.1.{'9' * 30}"):
        with stranger.session_transaction() as session:
            session["login"] = identity
        assert stranger.get("/").status_code == 302


def test_the_session_before_signing_in_is_not_the_one_after(stranger):
    page = stranger.page("/sign-in")
    before = page.tree.xpath("//main//input[@name='csrf_token']/@value")[0]
    stranger.submit(page, GOOD)
    answer = stranger.post("/sign-out", data={"csrf_token": before})
    assert answer.status_code == 400
    assert stranger.page("/").heading == "Floor"


def test_changing_the_password_keeps_this_sign_in_and_ends_the_others(signed_in, db):
    here, there = signed_in(Role.COUNTER), signed_in(Role.COUNTER)
    new = "another long word"
    page = here.submit("/me", {"current": PASSWORD, "password": new, "again": new})
    assert page.notices == ["Password changed. You are signed out on every other device."]
    assert there.get("/").status_code == 302
    assert users.sign_in(db, "counter", new, BY.at + timedelta(days=1)).role is Role.COUNTER


@pytest.mark.parametrize(
    ("typed", "field", "message"),
    [
        ({"current": "not the right word"}, "current", "Wrong user name or password"),
        ({"current": ""}, "current", "Required: enter a value"),
        (
            {"password": "short", "again": "short"},
            "password",
            "Too short: enter at least 10 characters",
        ),
        ({"again": "another lang word"}, "again", "The two passwords differ"),
        (
            {"password": "x" * 300, "again": "x" * 300},
            "password",
            "Too long: enter at most 256 characters",
        ),
    ],
)
def test_a_new_password_is_refused_at_the_field(client, typed, field, message):
    good = {"current": PASSWORD, "password": "another long word", "again": "another long word"}
    page = client.submit("/me", {**good, **typed}, status=422)
    assert message in page.fault(field)


def test_the_cookie_is_kept_from_scripts_and_other_sites(stranger):
    stranger.submit("/sign-in", GOOD)
    (cookie,) = stranger._cookies.values()
    assert cookie.http_only
    assert cookie.same_site == "Lax"
    assert not cookie.secure


@pytest.mark.slow
def test_over_https_the_cookie_is_kept_to_it(tmp_path):
    settings = Settings(tmp_path, f"sqlite:///{tmp_path / 'shop.db'}", "a key", https=True)
    app = create_app(settings)
    app.test_client_class = Client
    client = app.test_client()
    answer = client.get("/set-up", base_url="https://localhost")
    assert "Secure" in answer.headers["Set-Cookie"]
    assert "max-age" in answer.headers["Strict-Transport-Security"]
    app.extensions["shopflow.engine"].dispose()


def test_a_sign_in_left_idle_ends_and_one_in_use_does_not(web_app, stranger):
    lasts = web_app.config["PERMANENT_SESSION_LIFETIME"]
    with time_machine.travel(datetime.now(UTC), tick=False) as clock:
        stranger.submit("/sign-in", GOOD)
        for _ in range(3):
            clock.shift(lasts * 0.9)
            assert stranger.get("/", headers=PAGE).status_code == 200
        clock.shift(lasts * 1.1)
        assert stranger.get("/").headers["Location"] == "/sign-in"
