"""Webhooks in the browser: named, tried, switched; messages that lead to records; the guide's own
check of a signature."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from shopflow.courier import Courier
from shopflow.models import Event, Webhook
from shopflow.resources import GUIDE
from shopflow.services.billing import payments
from shopflow.services.webhooks import events, hooks
from shopflow.webhooks import signature
from tests import factories
from tests.hook_server import Listener, listening
from tests.web.client import Client, Page


@pytest.fixture
def listener() -> Iterator[Listener]:
    with listening() as running:
        yield running


@pytest.fixture
def courier(web_app: Flask, engine: Engine, monkeypatch: pytest.MonkeyPatch) -> Courier:
    """The courier of a shop that may post to this machine."""
    settings = dataclasses.replace(web_app.config["SHOPFLOW"], webhook_networks="127.0.0.0/8")
    monkeypatch.setitem(web_app.config, "SHOPFLOW", settings)
    return Courier.of(settings, engine)


def secret_on(page: Page) -> str:
    return str(page.tree.get_element_by_id("secret").value)


def test_a_webhook_is_named_tried_renewed_and_switched_off(client: Client, courier, listener):
    page = client.page(client.page("/api-tokens").links["Webhooks"])
    assert "No webhooks yet" in page.text
    page = client.page(page.links["Add webhook"])
    page = client.submit(page, {"url": listener.url})
    secret = secret_on(page)
    assert secret.startswith("whsec_")
    page = client.page(page.links["Show webhook"])
    assert secret not in page.response.text
    client.press(page, "Send trial")
    assert courier.post_due() == 1
    headers, body = listener.taken[0]
    at = int(headers["webhook-timestamp"])
    assert headers["webhook-signature"] == signature.sign(secret, headers["webhook-id"], at, body)
    page = client.page(page.path)
    assert "delivered, 204" in page.text
    client.press(page, "Repeat delivery")
    assert courier.post_due() == 1
    renewed = client.press(page, "Renew secret")
    assert secret_on(renewed) != secret
    assert "secret before" in renewed.text
    page = client.press(page.path, "Switch off")
    assert "Switch on" in page.text
    page = client.press(page, "Switch on")
    assert page.notices == ["The webhook is on."]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"url": ""}, "Required"),
        ({"url": "http://example.com/"}, "The address must begin with https://"),
        ({"url": "https://169.254.169.254/latest"}, "is on a private network"),
        ({"events": []}, "Choose at least one"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(client: Client, values: Any, words: str) -> None:
    page = client.page("/webhooks/new")
    page = client.submit(page, {"url": "https://office.example/", **values}, status=422)
    assert words in page.text


def test_a_webhook_that_stopped_says_so(client: Client, db: Session) -> None:
    hook = factories.create_webhook(db)
    hook.is_on, hook.stopped_because = False, "nothing was delivered for 3 days: status 500"
    db.commit()
    assert "stopped" in client.page("/webhooks").text
    page = client.page(f"/webhooks/{hook.id}")
    assert "nothing was delivered for 3 days: status 500" in page.text
    client.press(page, "Switch on")
    db.expire_all()
    assert db.get_one(Webhook, hook.id).is_on


def test_every_address_in_a_message_is_one_of_the_interface(web_app: Flask, db: Session) -> None:
    by = factories.someone(db)
    session = factories.create_session(db)
    job = session.job_head.job
    factories.create_operation(db, session.job_head)
    factories.approve(db, by, job)
    factories.issue_certificate(db, by, [session])
    payments.record(db, by, job, {"amount": "20", "method": "cash"})
    db.commit()
    messages = events.since(db, 0, events.TYPES, 500)
    urls = web_app.url_map.bind("heads.example")
    told = set()
    for message in messages.items:
        address = re.search(r'"address": "([^"]+)"', message.body)
        assert address
        told.add((message.event, urls.match(address[1])[0]))
    assert told >= {
        ("flow_test.saved", "api.session"),
        ("head.state_changed", "api.job"),
        ("document.issued", "api.certificate"),
        ("payment.received", "api.balance"),
    }
    verbs = {tuple(row) for row in db.execute(select(Event.subject, Event.verb)).all()}
    assert verbs & events.ACTS.keys()


def test_the_check_in_the_guide_takes_what_is_signed_and_nothing_else() -> None:
    text = (GUIDE / "programs.md").read_text(encoding="utf-8")
    code = re.findall(r"```python\n(.*?)```", text, re.DOTALL)[1]
    names: dict[str, Any] = {}
    exec(compile(code, "programs.md", "exec"), names)
    is_from_shop = names["is_from_shop"]
    secret, other = signature.new_secret(), signature.new_secret()
    headers = signature.headers([other, secret], "msg_1", 1_000_000, "{}")
    assert is_from_shop(secret, headers, b"{}", now=1_000_299)
    assert not is_from_shop(secret, headers, b"{ }", now=1_000_000)
    assert not is_from_shop(secret, headers, b"{}", now=1_000_301)
    assert not is_from_shop(signature.new_secret(), headers, b"{}", now=1_000_000)
    assert not is_from_shop(secret, {**headers, "webhook-id": "msg_2"}, b"{}", now=1_000_000)


def test_the_types_of_the_guide_are_those_there_are() -> None:
    text = (GUIDE / "programs.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `([a-z_.]+)` \|", text, re.MULTILINE)) == set(events.TYPES)


def test_deliveries_of_another_webhook_are_not_found(client: Client, db: Session) -> None:
    first, second = factories.create_webhook(db), factories.create_webhook(db)
    row = hooks.send_trial(db, factories.BY, first)
    db.commit()
    page = client.page(f"/webhooks/{second.id}")
    address = f"/webhooks/{second.id}/deliveries/{row.id}/skip"
    answer = client.post(address, data={"csrf_token": page.value("csrf_token")})
    assert answer.status_code == 404
