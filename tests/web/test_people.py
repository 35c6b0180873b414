"""People's accounts in the browser, and the shop's settings."""

from __future__ import annotations

import pytest

from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.services.shop.settings import get_shop
from tests.factories import BY, PASSWORD

NEW = {"name": "Idris Vale", "login": "Idris", "role": "machinist", "password": PASSWORD}


def person(db, login):
    return next(user for user in users.list_all(db) if user.login == login)


def test_everyone_is_listed_with_role_and_standing(client, db):
    users.change(db, BY, person(db, "reader"), {"active": False})
    rows = {row[1]: row for row in client.page("/people").rows}
    assert rows["owner"][0] == "Nila Owner"
    assert rows["machinist"][2:4] == ["machinist", "active"]
    assert rows["reader"][3] == "closed"
    # BY.at in the shop's zone.
    assert rows["reader"][4] == "Mar 5, 2026"


def test_someone_new_can_sign_in(client, stranger):
    page = client.submit("/people/new", NEW)
    assert page.notices == ["Idris Vale can sign in as idris."]
    assert (
        stranger.submit("/sign-in", {"login": "idris", "password": PASSWORD}).heading == "My work"
    )


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("name", "", "Required: enter a value"),
        ("login", "OWNER", "This user name is taken: choose another"),
        ("password", "short", "Too short: enter at least 10 characters"),
    ],
)
def test_a_new_account_is_refused_at_the_field(client, field, typed, message):
    page = client.submit("/people/new", {**NEW, field: typed}, status=422)
    assert page.fault(field) == message


def test_a_role_can_be_changed(client, db):
    counter = person(db, "counter")
    client.submit(f"/people/{counter.id}", {"role": "machinist", "name": "Nila Weir"})
    assert (counter.role, counter.name) == (Role.MACHINIST, "Nila Weir")


def test_the_last_owner_cannot_be_shut_out(client, db):
    owner = person(db, "owner")
    page = client.submit(f"/people/{owner.id}", {"role": "reader"}, status=422)
    assert "The shop needs at least one owner who can sign in." in page.alerts
    assert owner.role is Role.OWNER


def test_the_owner_gives_a_new_password(client, signed_in, stranger, db):
    counter = person(db, "counter")
    other = signed_in(Role.COUNTER)
    page = client.page(f"/people/{counter.id}")
    action = f"/people/{counter.id}/password"
    page = client.submit(page, {"password": "short"}, action=action, status=422)
    assert page.fault("password") == "Too short: enter at least 10 characters"
    client.submit(page, {"password": "a word just given"}, action=action)
    assert other.get("/").status_code == 302
    stranger.submit("/sign-in", {"login": "counter", "password": "a word just given"})
    assert stranger.page("/").heading == "Floor"


def test_the_owner_stays_in_after_resetting_their_own_password(client, db):
    owner = person(db, "owner")
    action = f"/people/{owner.id}/password"
    page = client.page(f"/people/{owner.id}")
    page = client.submit(page, {"password": "a word just given"}, action=action)
    assert page.heading == "People"


def test_the_owner_signs_someone_out_everywhere(client, signed_in, db):
    other = signed_in(Role.MACHINIST)
    client.press(f"/people/{person(db, 'machinist').id}", "Sign out everywhere")
    assert other.get("/").status_code == 302


def test_an_account_that_is_not_there_is_not_found(client):
    assert client.page("/people/999", status=404).heading == "Page not found"


def test_the_settings_are_kept(client, db):
    page = client.submit("/shop", {"address": "12 Weir Lane\nTarn", "unit_system": "si"})
    assert page.notices == ["The shop settings are saved."]
    shop = get_shop(db)
    assert shop.unit_system == "si"
    assert shop.address.splitlines() == ["12 Weir Lane", "Tarn"]


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("name", "", "Required: enter a value"),
        ("currency", "$", "Enter a three-letter code like USD"),
        ("web_address", "shop.local", "Enter an address that starts with http:// or https://"),
        ("tax_rate_percent", "8,25", "'8,25' is not a number"),
    ],
)
def test_a_setting_is_refused_at_the_field(client, field, typed, message):
    page = client.submit("/shop", {field: typed}, status=422)
    assert page.fault(field) == message
    assert page.value(field) == typed
