"""The app as it is installed, and answers to the queue of a browser."""

from __future__ import annotations

import json
import re

from shopflow.models import OperationState
from shopflow.services.routing import operations
from shopflow.web.offline.answers import QUEUE
from tests.factories import approve, create_operation, create_visit, someone


def worker(client):
    answer = client.get("/service-worker.js")
    assert answer.mimetype == "text/javascript"
    named = re.findall(r'^const ([A-Z_]+) = (["\[].*);$', answer.text, re.MULTILINE)
    return {name: json.loads(value) for name, value in named}, answer.text


def test_the_manifest_names_the_shop_and_icons_that_are_there(client, shop):
    content = client.get("/app.webmanifest").get_json(force=True)
    assert content["name"] == shop.name
    assert content["start_url"] == "/"
    for icon in content["icons"]:
        answer = client.get(icon["src"])
        assert answer.mimetype == "image/png"
    assert 'href="/app.webmanifest"' in client.get("/").text


def test_the_worker_keeps_every_file_by_its_content(stranger):
    values, text = worker(stranger)
    assert "export " not in text
    for address in values["FILES"]:
        assert stranger.get(address).status_code == 200, address
    assert any(re.search(r"bench\.js\?v=[0-9a-f]{12}$", name) for name in values["FILES"])
    assert re.fullmatch(r"[0-9a-f]{16}", values["VERSION"])


def test_the_worker_keeps_pages_of_the_bench_and_queues_sign_off(stranger):
    values, _ = worker(stranger)

    def listed(name, path):
        return any(re.match(pattern, path) for pattern in values[name])

    for path in (
        "/bench",
        "/bench/2026-0001-A/test",
        "/heads/2026-0001-A/sheet",
        "/heads/2026-0001-A",
    ):
        assert listed("KEPT", path), path
    for path in ("/customers", "/invoices/7", "/settings", "/me", "/sign-in"):
        assert not listed("KEPT", path), path
    assert listed("QUEUED", "/steps/7/sign-off")
    assert not listed("QUEUED", "/steps/7/reopen")


def test_a_page_says_whose_it_is(client, stranger):
    assert client.get("/").headers["X-Person"].isdecimal()
    assert "X-Person" not in stranger.get("/sign-in").headers


def started(db):
    visit = create_visit(db)
    by = someone(db)
    step = create_operation(db, visit)
    approve(db, by, visit.job)
    operations.start(db, by, step)
    return step


def test_the_queue_is_answered_without_a_redirect_and_a_repeat_alike(client, db):
    step = started(db)
    address = f"/steps/{step.id}/sign-off"
    form = {
        "actual_minutes": "30",
        "notes": "",
        "idempotency_key": "k1",
        "version": str(step.version),
    }
    form |= dict(client.page(address).form().form_values()) | {"idempotency_key": "k1"}
    for _ in range(2):
        answer = client.post(address, data=form, headers={QUEUE: "1"})
        assert (answer.status_code, answer.text) == (201, "")
        assert answer.headers["Location"]
        db.expire_all()
        assert step.state is OperationState.DONE
    assert client.page("/").notices == ["Signed off: Flow-test."]


def test_the_queue_is_told_to_sign_in(stranger, db):
    step = started(db)
    address = f"/steps/{step.id}/sign-off"
    token = stranger.get("/sign-in/standing").get_json()
    assert (token["who"], token["person"]) == ("", "")
    data = {"csrf_token": token["csrf_token"]}
    answer = stranger.post(address, data=data, headers={QUEUE: "1"})
    assert answer.status_code == 401


def test_what_is_not_sent_has_a_page_of_its_own_for_anyone(stranger):
    page = stranger.page("/not-sent")
    assert page.heading == "Not sent yet"
    assert page.tree.xpath("//form") == []
