"""Signing in and staying in: guessing, easy passwords, copies of cookies, time running out."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.models import LoginSession, Role
from shopflow.services.accounts import login_sessions, login_throttle, passwords, users
from shopflow.services.accounts.users import SignInError
from shopflow.web.rights import CONFIRMED_TO_OPEN, CONFIRMED_TO_SEND
from tests.factories import BY, NOW, PASSWORD
from tests.optional import present
from tests.web.client import Client

GOOD = {"login": "owner", "password": PASSWORD}


def fail(db: Session, login: str, address: str, times: int) -> None:
    """Try a wrong password so often."""
    for _ in range(times):
        login_throttle.note(db, login, address, NOW, succeeded=False)


def waits(db: Session, login: str, address: str) -> bool:
    """True where the right password of the owner, or any of another login, has to wait."""
    try:
        users.sign_in(db, login, PASSWORD, NOW, address)
    except SignInError as error:
        return "Wait" in str(error)
    return False


def test_guessing_at_one_login_waits_there_and_shuts_nobody_out_elsewhere(db: Session):
    """Guard: `login_throttle.TRIES`, by login and address (ASVS 6.1.1: no malicious lock-out)."""
    fail(db, "owner", "10.0.0.1", login_throttle.TRIES)
    assert waits(db, "owner", "10.0.0.1")
    assert not waits(db, "owner", "10.0.0.2")


def test_one_password_tried_on_many_logins_waits_too(db: Session):
    """Guard: `login_throttle.TRIES_OF_ADDRESS`."""
    for turn in range(login_throttle.TRIES_OF_ADDRESS):
        fail(db, f"someone{turn}", "10.0.0.1", 1)
    assert waits(db, "owner", "10.0.0.1")
    assert not waits(db, "owner", "10.0.0.2")


def test_a_flood_from_many_addresses_waits_too(db: Session):
    """Guard: `login_throttle.TRIES_OF_LOGIN`."""
    for turn in range(login_throttle.TRIES_OF_LOGIN):
        fail(db, "owner", f"10.0.{turn}.1", 1)
    assert waits(db, "owner", "10.9.9.9")
    assert not waits(db, "counter", "10.9.9.9")


def test_tries_at_the_page_are_counted_by_the_connections_address(stranger: Client, db: Session):
    for _ in range(login_throttle.TRIES):
        stranger.submit("/sign-in", {**GOOD, "password": "not the right word"}, status=422)
    assert "Wait 15 minutes" in stranger.submit("/sign-in", GOOD, status=422).alerts
    tried = login_throttle.recent(db, "owner")
    assert {item.address for item in tried} == {"127.0.0.1"}


@pytest.mark.parametrize(
    "easy",
    [
        "1234567890", "password123", "qwertyuiop", "passwordpassword", "aaaaaaaaaaaa",
        "iloveyou123", "letmein1234", "P@ssw0rd123", "abcdefghij", "0987654321", "Monkey12345",
        "falling water heads", "FallingWater1", "nila owner1", "shopflow2026", "cylinderhead",
        "basketball1", "1q2w3e4r5t",
    ],
)  # fmt: skip
def test_a_password_that_is_easy_to_guess_is_refused_at_the_field(client: Client, easy: str):
    """Guard: `passwords.faults_of`; NIST SP 800-63B-4, 3.1.1.2: common, and context's own words."""
    values = {"current": PASSWORD, "password": easy, "again": easy}
    page = client.submit("/me", values, status=422)
    assert "too easy to guess" in page.fault("password").lower()


def test_the_most_common_passwords_of_the_length_asked_for_are_refused():
    """Held against the library's own list of 30,000 (ASVS 6.2.4 asks for 3,000 of the policy's
    length; the list has 1,090, and what is made of its shorter ones is judged as well)."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    common = [word for word in FREQUENCY_LISTS["passwords"] if len(word) >= passwords.SHORTEST]
    assert len(common) > 1000
    assert all(passwords.faults_of(word) for word in common[::10])


@pytest.mark.parametrize(
    "good",
    ["another long word for me", "ключ от старой мастерской", "   spaces at both ends   ",
     "x" * 3 + "correct horse battery staple", "🔧 wrench on the third shelf", "tT9#kQ2vLx0!"],
)  # fmt: skip
def test_a_password_of_any_letters_is_taken_exactly_as_typed(db: Session, good: str):
    """ASVS 6.2.5, 6.2.8: no rule of composition, nothing trimmed or folded."""
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    users.change_password(db, BY, owner, good)
    assert users.sign_in(db, "owner", good, NOW) is owner
    for other in (good.strip() if good != good.strip() else good.upper() + "x", good + " "):
        with pytest.raises(SignInError):
            users.sign_in(db, "owner", other, NOW)


def test_a_giant_password_costs_no_more_than_a_usual_one(db: Session):
    """Guards: `passwords.LONGEST` before hashing, `_JUDGED` before judging. Limit measured beside:
    a wrong password of usual length."""

    def took(password: str) -> float:
        start = time.thread_time()
        with pytest.raises(SignInError):
            users.sign_in(db, "owner", password, NOW)
        return time.thread_time() - start

    took("warm up the hash")
    usual = min(took("a usual wrong word") for _ in range(3))
    assert took("x" * 5_000_000) < 5 * usual
    start = time.thread_time()
    assert passwords.faults_of("ab" * 2_000_000)
    passwords.faults_of("correct horse " * 18)
    assert time.thread_time() - start < 20 * usual


def test_a_copy_of_a_cookie_opens_nothing_after_signing_out(web_app: Flask, stranger: Client):
    """Guard: `auth.leave` ends the sign-in in the database, not the cookie alone (ASVS 7.4.1)."""
    stranger.submit("/sign-in", GOOD)
    copied = present(stranger.get_cookie("shopflow")).value
    thief = web_app.test_client()
    thief.set_cookie("shopflow", copied)
    assert thief.get("/me").status_code == 200
    stranger.press("/", "Sign out")
    thief.set_cookie("shopflow", copied)
    assert thief.get("/me").status_code == 302


@pytest.mark.parametrize("door", ["own", "owner's"])
def test_a_new_password_ends_every_copy(
    web_app: Flask, signed_in: Callable[[Role], Client], db: Session, door: str
):
    counter, owner = signed_in(Role.COUNTER), signed_in(Role.OWNER)
    copied = present(counter.get_cookie("shopflow")).value
    person = next(user for user in users.list_all(db) if user.role is Role.COUNTER)
    new = "another long word"
    if door == "own":
        counter.submit("/me", {"current": PASSWORD, "password": new, "again": new})
    else:
        page = owner.page(f"/people/{person.id}")
        owner.submit(page, {"password": new}, action=f"/people/{person.id}/password")
    thief = web_app.test_client()
    thief.set_cookie("shopflow", copied)
    assert thief.get("/").status_code == 302


def test_a_sign_in_ends_a_week_after_it_began_however_busy(client: Client, db: Session):
    """Guard: `sign_ins.standing` (ASVS 7.3.2)."""
    (open_one,) = db.query(LoginSession)
    open_one.since -= login_sessions.LASTS - timedelta(minutes=1)
    assert client.get("/").status_code == 200
    open_one.since -= timedelta(minutes=2)
    assert client.get("/").status_code == 302


def test_a_sign_in_ends_when_no_page_is_opened_for_long(
    web_app: Flask, client: Client, monkeypatch: pytest.MonkeyPatch
):
    """Guard: PERMANENT_SESSION_LIFETIME, against the moment signed into the cookie (ASVS 7.3.1)."""
    assert client.get("/").status_code == 200
    monkeypatch.setitem(web_app.config, "PERMANENT_SESSION_LIFETIME", timedelta(seconds=-1))
    assert client.get("/").status_code == 302


def test_what_decides_who_gets_in_asks_for_the_password_again(client: Client, db: Session):
    """Guard: `rights.CONFIRMED` (ASVS 7.5.1)."""
    (open_one,) = db.query(LoginSession)
    page = client.page("/people/new")
    open_one.since -= CONFIRMED_TO_OPEN
    assert client.page("/people/new").heading == "Confirm your password"
    wrong = client.submit("/people/new", {"password": "not the right word"}, status=422)
    assert "Wrong user name or password" in wrong.fault("password")
    # A page opened before is still taken, for a while: nothing typed in it is lost.
    values = {"name": "Odo Farrant", "login": "odo", "password": "a word just given"}
    assert client.submit(page, values).notices == ["Odo Farrant can sign in as odo."]
    open_one.since -= CONFIRMED_TO_SEND
    number = len(users.list_all(db))
    answer = client.post("/people/new", data={"csrf_token": page.form().fields["csrf_token"]})
    assert answer.headers["Location"].startswith("/confirm?next=/people/new")
    assert len(users.list_all(db)) == number
    assert client.submit("/people/new", {"password": PASSWORD}).heading == "Add person"
    ended = [item for item in db.query(LoginSession) if item.ended_at]
    assert len(ended) == 1


def test_confirming_leaves_open_forms_good(client: Client, db: Session):
    page = client.page("/customers/new")
    client.submit("/confirm", {"password": PASSWORD})
    assert client.submit(page, {"name": "Ilse Brandt"}).heading == "Ilse Brandt"


def test_one_ends_a_sign_in_of_ones_own_and_no_others(
    client: Client, signed_in: Callable[[Role], Client], db: Session
):
    other, counter = signed_in(Role.OWNER), signed_in(Role.COUNTER)
    mine, elses = (
        next(item for item in reversed(db.query(LoginSession).all()) if item.person.role is role)
        for role in (Role.OWNER, Role.COUNTER)
    )
    page = client.page("/me")
    token = page.tree.xpath("//input[@name='csrf_token']/@value")[0]
    address = f"/me/sign-ins/{elses.id}/end"
    assert client.post(address, data={"csrf_token": token}).status_code == 404
    assert counter.get("/").status_code == 200
    page = client.press("/me", "Sign out device")
    assert page.notices == ["That device is signed out."]
    assert other.get("/").status_code == 302
    db.refresh(mine)
    assert mine.ended_at is not None


def test_the_owner_sees_who_tried(client: Client, stranger: Client, db: Session):
    stranger.submit("/sign-in", {"login": "counter", "password": "not it at all"}, status=422)
    person = next(user for user in users.list_all(db) if user.role is Role.COUNTER)
    page = client.page(f"/people/{person.id}")
    assert page.rows[0][1:] == ["127.0.0.1", "refused"]


def test_there_is_no_account_to_begin_with(empty_client: Client):
    """ASVS 6.3.2: no default account; the first page makes the owner's."""
    assert empty_client.get("/").headers["Location"] == "/set-up"
