"""Records that programs add: once for each key, by the scope of their token, and never forged.

The rules are the IETF's draft "The Idempotency-Key HTTP Header Field" (the same key answers alike,
with another body 422), RFC 6750 3.1 (insufficient_scope), RFC 9110 13.1.1 and RFC 6585 3 (412 and
428), RFC 9457 (problems) and RFC 8288 (Link).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import ApiRequest, BenchSession, Event, Job, JobFile, Measurement, Role, Visit
from shopflow.services import audit_log
from shopflow.services.accounts import api_tokens, users
from shopflow.services.actor import Actor
from tests import factories, photos
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.optional import present
from tests.web.client import Client

Send = Callable[..., Any]
MEASURED = {"kind": "guide clearance", "value": "0.0021 in", "cylinder": 1}


@pytest.fixture
def visit(db: Session) -> Visit:
    return factories.create_visit(db)


def secret_of(db: Session, *scopes: str) -> str:
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    secret = api_tokens.make(db, Actor.now(owner), factories.token_values(*scopes))[1]
    db.commit()
    return secret


@pytest.fixture
def send(stranger: Client, db: Session) -> Send:
    """A program that may add what was measured."""
    secret = secret_of(db, "measure")

    def post(address: str, body: Any, key: str = "one", **headers: str) -> Any:
        data, kind = (body, "image/jpeg") if isinstance(body, bytes) else (json.dumps(body), "")
        values = {"Authorization": f"Bearer {secret}", "Idempotency-Key": key, **headers}
        return stranger.post(
            f"/api/1{address}", data=data, headers=values, content_type=kind or "application/json"
        )

    return post


def count(db: Session, model: Any) -> int:
    db.rollback()
    return db.scalar(select(func.count()).select_from(model)) or 0


def test_a_measurement_is_added_once_for_its_key(send: Send, db: Session, visit: Visit):
    address = f"/visits/{visit.tag}/measurements"
    first = send(address, MEASURED)
    assert first.status_code == 201, first.text
    assert first.json["value"]["typed"] == "0.0021 in"
    again = send(address, MEASURED)
    assert (again.status_code, again.json) == (201, first.json)
    assert again.headers["Location"] == first.headers["Location"]
    assert (count(db, Measurement), count(db, ApiRequest)) == (1, 1)
    other = send(address, {**MEASURED, "value": "0.0030 in"})
    assert (other.status_code, other.mimetype) == (422, "application/problem+json")
    assert count(db, Measurement) == 1
    assert send(address, {**MEASURED, "value": "0.0030 in"}, "two").status_code == 201
    assert count(db, Measurement) == 2


def test_what_a_program_added_is_logged_as_its_own(send: Send, db: Session, visit: Visit):
    send(f"/visits/{visit.tag}/measurements", MEASURED)
    db.rollback()
    event = db.scalars(select(Event).where(Event.verb == "measured")).one()
    assert event.person is not None
    assert event.note.endswith("by token ledger")


def test_a_refused_request_leaves_its_key_free(send: Send, db: Session, visit: Visit):
    address = f"/visits/{visit.tag}/measurements"
    answer = send(address, {**MEASURED, "value": "wide"})
    assert answer.status_code == 422
    assert [fault["field"] for fault in answer.json["errors"]] == ["value"]
    assert count(db, ApiRequest) == 0
    assert send(address, MEASURED).status_code == 201


def test_a_flow_test_is_its_file(send: Send, db: Session, visit: Visit):
    address = f"/visits/{visit.tag}/sessions"
    file = INTAKE_US.replace("schema = 1", "schema = 1\nmeasured_at = 2026-02-03T10:00:00Z")
    answer = send(address, {"file": file})
    assert answer.status_code == 201, answer.text
    assert answer.headers["Location"] == f"/api/1/sessions/{answer.json['id']}"
    assert send(address, {"file": file}).json == answer.json
    # The same test under another key is refused by the shop's own rule.
    assert send(address, {"file": file}, "two").status_code == 409
    assert count(db, BenchSession) == 1
    faults = send(address, {"file": AFTER_US.replace("test_pressure =", "tset =")}, "three")
    assert faults.status_code == 422
    assert {"bench.tset", "bench.test_pressure"} <= {
        item["field"] for item in faults.json["errors"]
    }


def test_a_photo_is_kept_and_not_shown_to_the_customer(send: Send, db: Session, visit: Visit):
    address = f"/visits/{visit.tag}/photos?caption=Intake+bowl"
    answer = send(address, photos.jpeg(64, 48))
    assert answer.status_code == 201, answer.text
    assert (answer.json["caption"], answer.json["shown_to_customer"]) == ("Intake bowl", False)
    assert send(address, photos.jpeg(64, 48)).json == answer.json
    assert count(db, JobFile) == 1
    assert send(address, b"not a picture", "two").status_code == 422


def test_notes_are_replaced_only_as_last_read(send: Send, stranger: Client, db: Session, visit):
    secret, address = secret_of(db, "read", "measure"), f"/api/1/jobs/{visit.job.number}/notes"
    headers = {"Authorization": f"Bearer {secret}"}

    def put(notes: str, **more: str) -> Any:
        return stranger.put(address, json={"notes": notes}, headers=headers | more)

    tag = stranger.get(address, headers=headers).headers["ETag"]
    assert put("first").status_code == 428
    assert put("first", **{"If-Match": '"other"'}).status_code == 412
    assert put("first", **{"If-Match": tag}).json == {"notes": "first"}
    assert put("second", **{"If-Match": tag}).status_code == 412
    db.rollback()
    assert db.scalars(select(Job).where(Job.id == visit.job_id)).one().notes == "first"
    assert "by token" in audit_log.of_record(db, visit.job)[0].note


@pytest.mark.parametrize(
    ("scopes", "address", "status"),
    [
        (["read"], "/customers", 200),
        (["read"], "/invoices", 403),
        (["money"], "/invoices", 200),
        (["money"], "/customers", 403),
        (["measure"], "/customers", 403),
        (["money"], "/changes?since=0", 200),
    ],
)
def test_a_token_opens_its_scopes_alone(stranger, db, scopes, address, status):
    headers = {"Authorization": f"Bearer {secret_of(db, *scopes)}"}
    answer = stranger.get(f"/api/1{address}", headers=headers)
    assert answer.status_code == status
    if status == 403:
        assert 'error="insufficient_scope"' in answer.headers["WWW-Authenticate"]
        assert answer.mimetype == "application/problem+json"


def test_a_reading_token_adds_nothing(stranger: Client, db: Session, visit: Visit):
    headers = {"Authorization": f"Bearer {secret_of(db, 'read')}", "Idempotency-Key": "one"}
    address = f"/api/1/visits/{visit.tag}/measurements"
    assert stranger.post(address, json=MEASURED, headers=headers).status_code == 403
    assert count(db, Measurement) == 0


def test_money_is_null_without_its_scope(stranger: Client, db: Session, visit: Visit):
    factories.create_operation(db, visit, price="100.00")
    address = f"/api/1/jobs/{visit.job.number}"
    shown = {}
    for scopes in (("read",), ("read", "money")):
        headers = {"Authorization": f"Bearer {secret_of(db, *scopes)}"}
        job = present(stranger.get(address, headers=headers).json)
        shown[scopes] = (job["money"] is None, job["heads"][0]["operations"][0]["price"])
    assert shown == {("read",): (True, None), ("read", "money"): (False, "100.00")}


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        ({"headers": {}}, 400, "Idempotency-Key"),
        ({"headers": {"Idempotency-Key": "x" * 201}}, 400, "at most 200 characters"),
        ({"content_type": "text/plain"}, 415, "Send application/json."),
        ({"content_type": "application/x-www-form-urlencoded"}, 415, "Send application/json."),
        ({"data": "{"}, 400, "cannot be read as JSON"),
        ({"data": "[" * 100_000}, 400, "cannot be read as JSON"),
        ({"data": "[]"}, 400, "must be a JSON object"),
        ({"data": '{"value": NaN}'}, 400, "cannot be read as JSON"),
        ({"data": '{"kind": "guide clearance", "value": 3}'}, 422, ""),
        ({"data": '{"kind": "no kind", "value": "1 mm"}'}, 422, ""),
        ({"data": '{"kind": "\\ud800", "value": "1 mm"}'}, 422, ""),
        ({"data": '{"kind": "\\u0000", "value": "1 mm"}'}, 422, ""),
        ({"data": '{"colour": "red"}'}, 422, ""),
        ({"data": b"\xff\xfe"}, 400, "cannot be read as JSON"),
    ],
)
def test_what_cannot_be_read_is_a_problem(stranger, db, visit, change, status, words):
    sent = {
        "data": json.dumps(MEASURED),
        "headers": {"Idempotency-Key": "one"},
        "content_type": "application/json",
        **change,
    }
    sent["headers"] = {"Authorization": f"Bearer {secret_of(db, 'measure')}", **sent["headers"]}
    answer = stranger.post(f"/api/1/visits/{visit.tag}/measurements", **sent)
    assert (answer.status_code, answer.mimetype) == (status, "application/problem+json")
    assert words in present(answer.json)["detail"]


def test_pages_name_the_next_in_a_link(stranger: Client, db: Session):
    for _ in range(3):
        factories.create_customer(db)
    headers = {"Authorization": f"Bearer {secret_of(db, 'read')}"}
    answer = stranger.get("/api/1/customers?limit=2", headers=headers)
    links = answer.headers.getlist("Link")
    assert links[0] == '</api/1/customers?limit=2>; rel="first"'
    assert links[1] == f'<{present(answer.json)["next"]}>; rel="next"'


def test_a_token_for_a_bench_names_it(client: Client, db: Session):
    page = client.submit("/api-tokens/new", {"name": "agent", "scopes": ["bench"]}, status=422)
    assert page.fault("bench") == "Choose the bench that it posts to"
    bench = factories.create_bench(db)
    db.commit()
    client.submit("/api-tokens/new", {"name": "agent", "scopes": ["bench"], "bench": str(bench.id)})
    assert f"({bench.name})" in client.page("/api-tokens").text
    page = client.submit("/api-tokens/new", {"name": "agent", "scopes": []}, status=422)
    assert "Choose at least one" in page.text
