"""Whatever is sent to whichever page: a page in words, never a failure of the program."""

from __future__ import annotations

import random
import re

import pytest

from shopflow import testfile
from shopflow.services.accounts.users import list_all
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, sections, sessions
from shopflow.services.registry import customer_links
from shopflow.services.shop import settings
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_mailbox, create_operation, create_visit, issue_certificate
from tests.security.one_of_everything import takes
from tests.web.client import Page

VALUES = (
    "",
    "x",
    "-1",
    "0",
    "1",
    "9" * 30,
    "1e999",
    "nan",
    "\x00",
    "日本語",
    "28 inH2O",
    "44 mm",
    "90 lbf",
    "<script>alert(1)</script>",
    "'; DROP TABLE job;--",
    "2026-02-30",
    "2026-11-25",
    "A" * 3000,
    "🙂" * 300,
    "1,5 mm",
    "intake",
    "exhaust",
    "٣",
    "²",
    "\u202eabc",
    "12.5",
    "1792 cm3",
)
APART = {"account.sign_out", "account.sign_out_everywhere", "users.sign_out_everywhere",
         "users.person", "users.password", "sessions.worked_out", "shop.make_key",
         "static"}  # fmt: skip
"""Endpoints that would sign this test out, or leave a key behind for the tests after it, or that
answer with a piece of a page."""


@pytest.fixture
def places(db):
    """Values for the parts of an address, by name: some on record, some not."""
    owner = Actor(next(item for item in list_all(db) if item.role == "owner"), BY.at)
    visit = create_visit(db)
    create_operation(db, visit, "teardown")
    stored = sessions.store(db, BY, visit, testfile.loads(INTAKE_US))
    shared = {"side": "intake", "when": "after"}
    sections.record(db, BY, visit, shared, [{"distance": "12 mm", "area": "1290 mm2"}])
    issued = issue_certificate(db, owner, [stored])
    bench = benches.create(db, BY, {"name": "North", "reading": "volume flow"})
    benches.add_range(db, BY, bench, {"name": "whole"})
    settings.change(db, BY, settings.get_shop(db), {"web_address": "https://heads.example"})
    create_mailbox(db)
    link = customer_links.make(db, Actor.now(None), visit.job)[1]
    return {
        "kind": ["certificate", "work-order"],
        "token": [link.rpartition("/")[2], "none"],
        "tag": [visit.tag, "none"],
        "number": [visit.job.number, issued.number, "none"],
        "way": ["earlier"],
        "name": ["compression", "turbine", "none"],
        "style": ["Regular", "none"],
    }


def addresses(rule, places):
    """Addresses that fit a rule."""
    for choice in range(2):
        address = rule.rule
        for part in re.findall(r"<([^>]+)>", rule.rule):
            pool = places.get(part.split(":")[-1], ["1", "2147483647"])
            address = address.replace(f"<{part}>", pool[choice % len(pool)])
        yield address


@pytest.mark.slow
def test_nothing_a_person_can_send_breaks_a_page(web_app, client, places, monkeypatch):
    monkeypatch.setitem(web_app.config, "WTF_CSRF_ENABLED", False)
    monkeypatch.setattr(web_app, "testing", False)
    chosen = random.Random(20260305)
    sent = 0
    for rule in web_app.url_map.iter_rules():
        if rule.endpoint in APART:
            continue
        for address in addresses(rule, places):
            page = client.get(address) if takes(rule, "GET") else None
            fields = {"reason", "state", "actual_minutes"}
            if page is not None and page.mimetype == "text/html":
                fields |= set(re.findall(r' name="([^"]+)"', page.text))
            for _ in range(4):
                values = {name: chosen.choice(VALUES) for name in sorted(fields)}
                query = {name: values[name] for name in chosen.sample(sorted(fields), 2)}
                query |= {"q": chosen.choice(VALUES), "range": chosen.choice(VALUES)}
                if takes(rule, "GET"):
                    assert client.get(address, query_string=query).status_code < 500, query
                if takes(rule, "POST"):
                    some = {name: value for name, value in values.items() if chosen.random() < 0.8}
                    assert client.post(address, data=some).status_code < 500, (address, some)
                sent += 2
    assert sent > 500


DEEP = {
    "brackets": "[" * 100_000,
    "closed brackets": "[" * 900 + "]" * 900,
    "deep in a field": '{"name": ' + "[" * 900 + "]" * 900 + "}",
    "deep tables": '{"name":' * 20_000,
    "deep tables closed": '{"name":' * 900 + "1" + "}" * 900,
    "too many digits": '{"name": ' + "9" * 5000 + "}",
    "not text": '{"name": NaN}',
    "a list": "[1]",
    "cut off": '{"name": "x',
    "lone half": '{"name": "\\ud83d"}',
}


@pytest.mark.parametrize("opened", DEEP.values(), ids=DEEP)
@pytest.mark.parametrize("meanwhile", [False, True], ids=["alone", "changed meanwhile"])
def test_what_a_form_says_it_was_opened_with_may_be_anything(client, db, opened, meanwhile):
    """No RecursionError: the form then does not say how it was opened, and one is asked which of
    the values to keep.
    """
    row = create_visit(db).job.customer
    db.commit()
    address = f"/customers/{row.id}/change"
    form = dict(client.page(address).form().form_values())
    if meanwhile:
        client.submit(address, {"name": "Theirs"})
    answer = client.post(address, data={**form, "name": "Mine", "opened": opened})
    assert answer.status_code == 422
    assert client.submit(Page(answer), {"choice-name": "mine"}).heading == "Mine"


def test_random_json_never_breaks_an_edit_form(client, db):
    row = create_visit(db).job.customer
    db.commit()
    address = f"/customers/{row.id}/change"
    form = dict(client.page(address).form().form_values())
    chance = random.Random(20261129)
    for _ in range(60):
        opened = "".join(
            chance.choice('[]{}":,0e-nul \\name') for _ in range(chance.randrange(400))
        )
        answer = client.post(address, data={**form, "opened": opened, "name": "Mine"})
        assert answer.status_code in (302, 422), opened
