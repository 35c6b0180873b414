"""The first start."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from shopflow.database import open_engine, session_factory
from shopflow.models import OperationKind, Role, SetUpCode, Shop, User
from shopflow.services.accounts import set_up_codes, verification_throttle
from tests.factories import NOW
from tests.optional import present

GOOD = {
    "name": "Falling Water Heads",
    "language": "en_GB",
    "time_zone": "America/Chicago",
    "unit_system": "si",
    "paper_size": "A4",
    "currency": "eur",
    "tax_rate_percent": "19",
    "owner_name": "Nila Brook",
    "login": "Nila",
    "password": "a long enough word",
    "again": "a long enough word",
}


@pytest.fixture(autouse=True)
def code(web_app, empty_client):
    """The code printed at the start."""
    engine = open_engine(web_app.config["SHOPFLOW"].database_url)
    with session_factory(engine).begin() as db:
        set_up_code = set_up_codes.make(db, NOW)
    engine.dispose()
    GOOD["code"] = set_up_code
    return set_up_code


@pytest.fixture
def records(web_app, empty_client):
    """Records in the database."""
    engine = open_engine(web_app.config["SHOPFLOW"].database_url)

    def query(noun):
        with session_factory(engine)() as db:
            return list(db.scalars(select(noun)))

    yield query
    engine.dispose()


@pytest.mark.parametrize("address", ["/", "/customers", "/people/new", "/shop", "/sign-in"])
def test_before_it_everything_leads_to_it(empty_client, address):
    assert empty_client.page(address).path == "/set-up"


def test_it_makes_the_shop_and_its_owner_and_signs_the_owner_in(empty_client, records):
    page = empty_client.submit("/set-up", GOOD)
    assert page.heading == "Floor"
    assert page.tree.get("lang") == "en-GB"
    assert page.title.endswith("Falling Water Heads")
    (shop,) = records(Shop)
    (owner,) = records(User)
    assert (shop.language, shop.time_zone) == ("en_GB", "America/Chicago")
    assert (shop.currency, shop.unit_system, shop.paper_size) == ("EUR", "si", "A4")
    assert (owner.login, owner.name, owner.role) == ("nila", "Nila Brook", Role.OWNER)
    assert records(OperationKind)


def test_after_it_it_is_shut(empty_client, records):
    empty_client.submit("/set-up", GOOD)
    assert empty_client.page("/set-up").path == "/"
    match = re.search('name="csrf_token" value="([^"]+)"', empty_client.get("/me").text)
    token = present(match)[1]
    answer = empty_client.post("/set-up", data={**GOOD, "login": "two", "csrf_token": token})
    assert answer.status_code == 302
    assert len(records(User)) == 1


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("name", "", "Required: enter a value"),
        ("name", "x" * 201, "201 characters is too long: enter at most 200"),
        ("time_zone", "", "Required: choose one"),
        ("currency", "dollars", "Enter a three-letter code like USD"),
        ("tax_rate_percent", "eight", "'eight' is not a number"),
        ("tax_rate_percent", "-1", "'-1' is too low: enter 0 or more"),
        ("owner_name", " ", "Required: enter a value"),
        ("code", "", "Required: enter a value"),
        ("login", "", "Required: enter a value"),
        ("login", "x" * 81, "81 characters is too long: enter at most 80"),
        ("password", "short", "Too short: enter at least 10 characters"),
        ("again", "another word altogether", "The two passwords differ: type the same one twice"),
    ],
)
def test_a_fault_shows_at_its_field_and_nothing_is_kept_or_lost(
    empty_client, records, field, typed, message
):
    page = empty_client.submit("/set-up", {**GOOD, field: typed}, status=422)
    assert page.fault(field) == message
    assert page.alerts.startswith("Not saved yet.")
    for name in (
        "name",
        "language",
        "time_zone",
        "currency",
        "tax_rate_percent",
        "owner_name",
        "login",
    ):
        assert page.value(name) == (typed if name == field else GOOD[name])
    assert records(Shop) == records(User) == []


def test_without_the_code_that_was_printed_nobody_sets_the_shop_up(empty_client, records):
    page = empty_client.submit("/set-up", {**GOOD, "code": "AAAAA-AAAAA"}, status=422)
    assert page.fault("code") == (
        "'AAAAA-AAAAA' is not the set-up code: copy it from where shopflow was started"
    )
    assert records(Shop) == records(User) == []


def test_wrong_codes_are_throttled(empty_client, records, code):
    for _ in range(verification_throttle.MOST_WRONG):
        empty_client.submit("/set-up", {**GOOD, "code": "AAAAA-AAAAA"}, status=422)
    page = empty_client.submit("/set-up", {**GOOD, "code": code}, status=422)
    assert "Wait 10 minutes" in page.fault("code")
    assert records(User) == []


def test_the_code_is_kept_as_its_hash_and_forgotten_once_used(empty_client, records, code):
    (row,) = records(SetUpCode)
    assert code.replace("-", "") not in row.code_sha256
    empty_client.submit("/set-up", {**GOOD, "code": f" {code.lower().replace('-', '')} "})
    assert records(SetUpCode) == []
