"""Every address, every method, every role and none: nobody gets in without a right.

Guard: `shopflow.web.rights._enforce`, before every request. With it taken out, every refusal here
is an answer instead.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import MetaData, select
from sqlalchemy.orm import Session
from werkzeug.routing import Rule

from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.web.rights import BY_TOKEN, OPEN, RIGHTS
from tests.optional import present
from tests.security.one_of_everything import OneOfEverything, rules, takes
from tests.web.client import Client

EVERYONE = [None, *Role]

# Stated once more, in words of the shop and not of the table: what each may send.
READER_SENDS = {"account.confirm", "account.end_sign_in", "account.me", "account.sign_out",
                "account.sign_out_everywhere", "account.search_key", "feeds.make",
                "feeds.revoke"}  # fmt: skip
OWNER_ALONE = {
    "certificates.withdraw", "drafts.issue", "hand_offs.sign", "hand_offs.take_back",
    "invoices.credit", "smtp_settings.settings", "smtp_settings.test",
    "users.create", "users.index",
    "users.password", "users.person", "users.sign_out_everywhere", "shop.house_style",
    "shop.make_key", "shop.settings", "shop.hours", "releases.give",
    "export.for_import_file", "export.index", "export.tables", "export.whole_shop",
    "export.open_data", "export.open_data_schema", "imports.open_data",
    "imports.confirm", "imports.faults", "imports.index", "imports.preview", "imports.template",
    "imports.upload", "first_days.index", "first_days.put_away", "first_days.show",
    "operation_kinds.add", "operation_kinds.change", "operation_kinds.offer",
    "operation_kinds.places", "measurement_kinds.add", "measurement_kinds.change",
    "measurement_kinds.offer",
    "api_tokens.index", "api_tokens.make", "api_tokens.revoke", "engine_ranges.of_shop",
    "engine_ranges.remove_of_shop",
    "webhooks.index", "webhooks.make", "webhooks.renew_secret",
    "webhooks.repeat", "webhooks.send_trial", "webhooks.skip", "webhooks.switch_off",
    "webhooks.switch_on", "webhooks.webhook",
}  # fmt: skip
NO_MONEY_FOR_MACHINISTS = {"invoices.issue", "payments.pay", "quotes.new", "jobs.approve"}
NO_BENCH_FOR_THE_COUNTER = {"sessions.new", "sessions.upload", "measurements.record",
                            "operations.sign_off", "certificates.new"}  # fmt: skip


def methods(rule: Rule) -> list[str]:
    """Methods that a rule answers to."""
    return sorted(present(rule.methods) - {"HEAD", "OPTIONS"})


def token_of(client: Client, role: Role | None) -> str:
    """A good CSRF token of this client, so that a refusal is for want of a right alone."""
    page = client.page("/sign-in" if role is None else "/me")
    return str(page.tree.xpath("//input[@name='csrf_token']/@value")[0])


def everything_in(db: Session) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table."""
    tables = MetaData()
    tables.reflect(db.connection())
    return {
        table.name: [tuple(row) for row in db.execute(select(table).order_by(*table.primary_key))]
        for table in tables.sorted_tables
    }


@pytest.mark.slow
@pytest.mark.parametrize("role", EVERYONE, ids=str)
def test_what_one_has_no_right_to_is_refused_and_changes_nothing(
    web_app: Flask,
    new_client: Callable[[], Client],
    signed_in: Callable[[Role], Client],
    db: Session,
    everything: OneOfEverything,
    role: Role | None,
):
    client = new_client() if role is None else signed_in(role)
    token = token_of(client, role)
    before = everything_in(db)
    refused = 0
    for rule in rules(web_app):
        if rule.endpoint in OPEN | BY_TOKEN or role in RIGHTS.get(rule.endpoint, ()):
            continue
        for method in methods(rule):
            address = everything.address(rule)
            answer = client.open(address, method=method, data={"csrf_token": token})
            if role is None:
                assert answer.status_code == 302, (method, address)
                assert answer.headers["Location"].startswith("/sign-in"), (method, address)
            else:
                assert answer.status_code == 403, (method, address)
            refused += 1
    assert (refused > 20) == (role is not Role.OWNER)
    assert everything_in(db) == before


@pytest.mark.slow
@pytest.mark.parametrize("role", list(Role), ids=str)
def test_what_one_has_a_right_to_is_answered(
    web_app: Flask, signed_in: Callable[[Role], Client], everything: OneOfEverything, role: Role
):
    """Nothing is shut by mistake, and no address breaks when an empty form is sent to it."""
    client = signed_in(role)
    token = token_of(client, role)
    # What would end this sign-in or leave a key behind; the last answers with a piece of a page.
    left_out = {"account.sign_out", "account.sign_out_everywhere", "users.sign_out_everywhere",
                "account.end_sign_in", "account.confirm", "shop.make_key",
                "sessions.worked_out"}  # fmt: skip
    for rule in rules(web_app):
        if role not in RIGHTS.get(rule.endpoint, ()) or rule.endpoint in left_out:
            continue
        for method in methods(rule):
            address = everything.address(rule)
            answer = client.open(address, method=method, data={"csrf_token": token})
            assert answer.status_code not in (400, 401, 403, 405), (method, address)
            assert answer.status_code < 500, (method, address)
            assert not answer.headers.get("Location", "").startswith("/sign-in"), address


@pytest.mark.parametrize("role", EVERYONE, ids=str)
def test_no_sign_in_opens_what_a_token_opens(
    web_app: Flask,
    new_client: Callable[[], Client],
    signed_in: Callable[[Role], Client],
    everything: OneOfEverything,
    role: Role | None,
):
    """Guard: `web.api.bearer.demand`, before each address of the programming interface."""
    client = new_client() if role is None else signed_in(role)
    matches = [rule for rule in rules(web_app) if rule.endpoint in BY_TOKEN]
    assert len(matches) == len(BY_TOKEN)
    for rule in matches:
        for method in methods(rule):
            answer = client.open(everything.address(rule), method=method)
            assert answer.status_code == 401, rule.rule


def test_the_table_says_what_the_shop_says(web_app: Flask):
    posting = {rule.endpoint for rule in rules(web_app) if takes(rule, "POST")}
    assert {
        name for name in posting - OPEN - BY_TOKEN if Role.READER in RIGHTS[name]
    } == READER_SENDS
    assert {name for name, roles in RIGHTS.items() if roles == {Role.OWNER}} == OWNER_ALONE
    for name in NO_MONEY_FOR_MACHINISTS:
        assert Role.MACHINIST not in RIGHTS[name]
    for name in NO_BENCH_FOR_THE_COUNTER:
        assert Role.COUNTER not in RIGHTS[name]


def test_what_has_no_row_is_shut(web_app: Flask, client: Client, monkeypatch: pytest.MonkeyPatch):
    """Guard: `rights.may` takes no row for no right."""
    monkeypatch.delitem(RIGHTS, "jobs.index")
    assert client.get("/jobs").status_code == 403


@pytest.mark.slow
def test_other_methods_are_not_answered(
    web_app: Flask, client: Client, everything: OneOfEverything
):
    # A program replaces the notes of a job.
    put = {rule.rule for rule in rules(web_app) if takes(rule, "PUT")}
    assert put == {"/api/1/jobs/<number>/notes"}
    for rule in rules(web_app):
        for method in ("PUT", "PATCH", "DELETE", "TRACE"):
            if method != "PUT" or rule.rule not in put:
                assert client.open(everything.address(rule), method=method).status_code == 405


def test_a_right_taken_away_ends_at_once(signed_in: Callable[[Role], Client], db: Session):
    """Guard: the role is read from the database at each request, not kept in the cookie."""
    client = signed_in(Role.COUNTER)
    assert client.get("/outbox").status_code == 200
    person = next(user for user in users.list_all(db) if user.role is Role.COUNTER)
    person.role = Role.READER
    assert client.get("/outbox").status_code == 403
