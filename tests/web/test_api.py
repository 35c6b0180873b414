"""The programming interface, what is read of it: opened by a token alone, and as described.

Its description is held to the OpenAPI 3.1 standard by openapi-spec-validator, every answer to the
description's own schemas by jsonschema.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from jsonschema import Draft202012Validator, FormatChecker
from openapi_spec_validator import OpenAPIV31SpecValidator
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import camfile, issuing, testfile
from shopflow.calc.area_gain import compare_areas
from shopflow.database import open_engine, session_factory
from shopflow.models import (
    ApiToken,
    BenchSession,
    Cam,
    Certificate,
    Event,
    Fixture,
    IntegrityKind,
    IntegrityTest,
    Invoice,
    JobFile,
    Measurement,
    Quote,
    Role,
    SeatProfile,
    Spring,
    VelocityMap,
)
from shopflow.services.accounts import api_tokens, login_throttle, users
from shopflow.services.actor import Actor
from shopflow.services.bench import bench_checks, bench_days, leak_checks, sessions
from shopflow.services.billing import payments, quotes
from shopflow.services.engine import cams
from shopflow.services.measuring import integrity_tests, measurements, seat_profiles
from shopflow.services.registry import attachments
from shopflow.services.springs import records as spring_records
from shopflow.units import SI
from shopflow.web.api.description import describe
from shopflow.web.api.routes import interface
from shopflow.web.rights import BY_TOKEN
from tests import factories
from tests.cli.sessions import AFTER_US
from tests.optional import present
from tests.web.client import Client
from tests.web.conftest import put_under

Ask = Callable[..., Any]


@pytest.fixture(scope="module")
def filled_file(set_up_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file of a shop with a certificate, and two open heads, to be copied."""
    path = tmp_path_factory.mktemp("filled") / "filled.db"
    shutil.copyfile(set_up_file, path)
    engine = open_engine(f"sqlite:///{path}")
    with session_factory(engine).begin() as db:
        fill(db)
    engine.dispose()
    return path


def fill(db: Session) -> None:
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    by = Actor(owner, factories.NOW)
    job = factories.create_job(db, head_count=2)
    deposit = {"amount": "50", "method": "cash", "is_deposit": True}
    payments.record(db, by, job, deposit)
    factories.create_operation(db, job.heads[0])
    session = factories.create_session(db, job.heads[0])
    factories.issue_certificate(db, by, [session])
    clearance = measurements.kind_by_code(db, "guide clearance")
    measurements.record(db, by, job.heads[0], clearance.id, {"value": "0.05 mm", "cylinder": 1})
    factories.create_cam(db, job)
    points = [{"height": "40 mm", "load": "300 N"}, {"height": "30 mm", "load": "700 N"}]
    spring_records.save(db, by, job.heads[0], "intake", {"name": "single"}, points)
    engine_type = job.heads[0].head.engine_type
    seat_profiles.save_usual(db, by, engine_type, "intake", factories.SEAT, SI)
    values = {"method": "dye penetrant", "result": "watch", "place": "around hole 7"}
    integrity_tests.add(db, by, job.heads[0], IntegrityKind.CRACK, values)
    invoiced = factories.create_visit(db)
    factories.create_operation(db, invoiced, price="100.00")
    approved = issuing.give_quote(db, by, invoiced.job, {})
    quotes.approve(db, by, approved, "Orla Finch", "telephone")
    issuing.issue_invoice(db, by, invoiced.job, [invoiced.operations[0].id])
    batch = attachments.Batch(
        (attachments.StagedFile("a.txt", "text/plain", "0" * 64, "", 1, 0, 0),)
    )
    attachments.attach(db, by, invoiced.job, invoiced, batch, {})
    factories.create_fixture(db)
    factories.create_velocity_map(db, session)
    bench = factories.create_bench(db)
    bench_days.warm_up(db, by, bench, factories.NOW.date(), {"minutes": "20"})
    read = {"pressure": "28 inH2O", "leakage": "0.2 cfm"}
    leak_checks.record(db, by, bench.ranges[0], read)
    on_plate = {"plate": "A1", "expected": "100 cfm", "indicated": "101 cfm"}
    bench_checks.check(db, by, bench.ranges[0], on_plate)
    for _ in range(3):
        factories.create_customer(db)


@pytest.fixture
def database_url(web_app: Flask, filled_file: Path) -> str:
    """The app's own database, with the filled shop in it."""
    return put_under(web_app, filled_file)


@pytest.fixture
def secret(db: Session) -> str:
    return api_tokens.make(db, Actor.now(None), factories.token_values("read", "money"))[1]


@pytest.fixture
def ask(stranger: Client, secret: str) -> Ask:
    """A program with a token: its answer to an address."""

    def get(address: str, **headers: str) -> Any:
        values = {"Authorization": f"Bearer {secret}", **headers}
        return stranger.get(f"/api/1{address}", headers=values)

    return get


def addresses(db: Session) -> dict[str, str]:
    """An address that is answered, for every path of the description."""
    certificate = db.scalars(select(Certificate)).one()
    session = db.scalars(select(BenchSession)).one()
    head = session.job_head.head
    values = {
        "customer_id": str(session.job_head.job.customer_id),
        "engine_id": str(head.engine_type_id),
        "head_id": str(head.id),
        "session_id": str(session.id),
        "cam_id": str(db.scalars(select(Cam)).one().id),
        "spring_id": str(db.scalars(select(Spring)).one().id),
        "profile_id": str(db.scalars(select(SeatProfile)).one().id),
        "test_id": str(db.scalars(select(IntegrityTest)).one().id),
        "revision": "1",
        "tag": session.job_head.tag,
        "measurement_id": str(db.scalars(select(Measurement.id).limit(1)).one()),
        "fixture_id": str(db.scalars(select(Fixture)).one().id),
        "velocity_map_id": str(db.scalars(select(VelocityMap)).one().id),
        "file_id": str(db.scalars(select(JobFile)).one().id),
    }
    answer = {}
    numbers = {
        "certificates": certificate.number,
        "quotes": db.scalars(select(Quote)).one().number,
        "invoices": db.scalars(select(Invoice)).one().number,
    }
    for path in description_paths():
        number = numbers.get(path.split("/")[1], session.job_head.job.number)
        answer[path] = path.format(**values, number=number)
    answer["/changes"] += "?since=0"
    return answer


def description_paths() -> list[str]:
    paths = describe(interface.endpoints)["paths"]
    return [path for path, methods in paths.items() if "get" in methods]


def test_the_description_is_open_api_3_1(stranger: Client):
    answer = stranger.get("/api/1/openapi.json")
    assert answer.status_code == 200
    OpenAPIV31SpecValidator(present(answer.json)).validate()


def test_every_address_is_described_and_in_the_table(web_app: Flask, stranger: Client):
    rules = [rule for rule in web_app.url_map.iter_rules() if rule.endpoint.startswith("api.")]
    assert {rule.endpoint for rule in rules} == BY_TOKEN | {"api.openapi"}
    described = present(stranger.get("/api/1/openapi.json").json)["paths"]
    operations = [(method, item) for path in described.values() for method, item in path.items()]
    assert len(operations) == len(BY_TOKEN)
    assert {f"api.{item['operationId']}" for _, item in operations} == BY_TOKEN
    methods = {rule.endpoint: present(rule.methods) for rule in rules}
    for method, item in operations:
        assert method.upper() in methods[f"api.{item['operationId']}"]


OF_A_BENCH = {"/bench", "/visits/{tag}/test", "/readings"}
"""Answered to a bench, or while a test is taken: tests/web/test_api_readings.py asks them."""


@pytest.mark.parametrize("path", sorted({*description_paths()} - OF_A_BENCH))
def test_every_answer_is_as_described(ask: Ask, stranger: Client, db: Session, path: str):
    document = present(stranger.get("/api/1/openapi.json").json)
    answer = ask(addresses(db)[path])
    assert answer.status_code == 200, answer.text
    ((media_type, content),) = document["paths"][path]["get"]["responses"]["200"]["content"].items()
    assert answer.mimetype == media_type
    if "schema" in content:
        wanted = {**content["schema"], "components": document["components"]}
        Draft202012Validator(wanted, format_checker=FormatChecker()).validate(answer.json)
        assert answer.json.get("items", True)


def test_a_cam_is_answered_with_its_file(ask: Ask, db: Session):
    row = db.scalars(select(Cam)).one()
    answer = ask(f"/cams/{row.id}").json
    assert row.job is not None
    assert (answer["name"], answer["engine_id"], answer["job"]) == (row.name, None, row.job.number)
    assert ask(f"/cams/{row.id}/file").text == answer["file"]
    assert camfile.loads(answer["file"]) == cams.document(row)
    assert ask(f"/cams?job={row.job.number}").json["items"] == [answer]
    assert ask("/cams?engine=1").json["items"] == []


def test_springs_are_answered_with_their_loads(ask: Ask, db: Session):
    row = db.scalars(select(Spring)).one()
    answered = ask(f"/springs/{row.id}").json
    tag = present(row.job_head).tag
    assert (answered["tag"], answered["side"], answered["engine_id"]) == (tag, "intake", None)
    assert answered["points"][0] == {
        "height": {"typed": "40 mm", "si": 0.04}, "load": {"typed": "300 N", "si": 300.0},
        "measured": False,
    }  # fmt: skip
    assert ask(f"/springs?tag={tag}").json["items"] == [answered]
    assert ask("/springs?engine=1").json["items"] == []
    assert ask("/springs/999").status_code == 404


def test_a_crack_test_is_answered_with_its_place_and_verdict(ask: Ask, db: Session):
    row = db.scalars(select(IntegrityTest)).one()
    answered = ask(f"/integrity-tests/{row.id}").json
    stated = {name: answered[name] for name in ("kind", "part", "place", "method", "verdict")}
    assert stated == {
        "kind": "crack test", "part": "region", "place": "around hole 7",
        "method": "dye penetrant", "verdict": "watch",
    }  # fmt: skip
    assert ask(f"/integrity-tests?tag={row.job_head.tag}").json["items"] == [answered]
    assert ask("/integrity-tests?kind=leak+test").json["items"] == []
    assert ask("/integrity-tests/999").status_code == 404


def test_a_seat_profile_is_answered_with_its_cuts(ask: Ask, db: Session):
    row = db.scalars(select(SeatProfile)).one()
    answer = ask(f"/seat-profiles/{row.id}").json
    assert (answer["tag"], answer["engine_id"], answer["side"]) == (
        None,
        row.engine_type_id,
        "intake",
    )
    contact = answer["cuts"][1]
    assert contact["angle"] == {"typed": "45 deg", "si": pytest.approx(0.7853981634)}
    assert contact["inner_diameter_m"] == pytest.approx(0.043 - 0.0015 * 2**0.5)
    assert ask(f"/seat-profiles?engine={row.engine_type_id}").json["items"] == [answer]
    assert ask("/seat-profiles?side=exhaust").json["items"] == []


@pytest.mark.parametrize("path", description_paths())
def test_no_address_opens_without_a_token(client: Client, stranger: Client, db: Session, path: str):
    address = f"/api/1{addresses(db)[path]}"
    # The owner's own sign-in opens nothing here.
    for item in (client, stranger):
        answer = item.get(address)
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == "Bearer"
        assert answer.mimetype == "application/problem+json"
        assert "Set-Cookie" not in answer.headers
        assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_job_has_its_heads_and_operations(ask: Ask, db: Session):
    session = db.scalars(select(BenchSession)).one()
    job = ask(f"/jobs/{session.job_head.job.number}").json
    assert job["state"] == "booked in"
    assert (job["money"]["received"], job["money"]["balance"]) == ("50.00", "-50.00")
    assert job["money"]["not_approved"] == "60.00"
    first, second = job["heads"]
    assert [step["kind"] for step in first["operations"]] == ["flow-test"]
    assert (first["session_ids"], second["session_ids"]) == ([session.id], [])


def test_a_session_is_its_file_and_its_figures(ask: Ask, db: Session):
    row = db.scalars(select(BenchSession)).one()
    answer = ask(f"/sessions/{row.id}").json
    assert testfile.loads(answer["file"]) == sessions.document(row)
    assert answer["points"][0]["flow"] == sessions.reduction(row).points[0].flow
    assert ask(f"/sessions/{row.id}/file").text == answer["file"]


def test_a_session_has_its_gain_over_the_first_of_its_port(ask: Ask, db: Session):
    first = db.scalars(select(BenchSession)).one()
    assert ask(f"/sessions/{first.id}").json["gain"] is None
    later = factories.create_session(db, first.job_head, AFTER_US)
    db.commit()
    gain = ask(f"/sessions/{later.id}").json["gain"]
    areas = compare_areas([sessions.reduction(first)], [sessions.reduction(later)])
    assert (gain["before"], gain["cut"]) == (
        first.id, "seat cut (as the test states; no step on record)",
    )  # fmt: skip
    assert areas.mean is not None
    assert areas.mean.expanded_uncertainty is not None
    assert gain["mean"]["gain_percent"] == 100 * areas.mean.gain
    percent = 100 * areas.mean.expanded_uncertainty
    assert gain["mean"]["expanded_uncertainty_percent"] == percent
    assert gain["mean"]["finding"] == areas.mean.verdict.value
    rows = [(point["low"], point["area_after"]) for point in gain["points"]]
    assert rows == [(point.low, point.after) for point in areas.points]


def test_a_certificate_comes_byte_for_byte(ask: Ask, db: Session):
    row = db.scalars(select(Certificate)).one()
    answer = ask(f"/certificates/{row.number}/1/pdf")
    assert hashlib.sha256(answer.data).hexdigest() == row.sha256


def test_pages_follow_one_another_to_the_end(ask: Ask, db: Session):
    total = ask("/customers").json
    assert total["next"] is None
    seen, address = [], "/customers?limit=2"
    while address:
        page = ask(address.removeprefix("/api/1")).json
        assert len(page["items"]) <= 2
        seen += page["items"]
        address = page["next"]
    assert seen == total["items"]
    assert len(seen) == 5


@pytest.mark.parametrize(
    ("address", "count"),
    [
        ("/customers?name=tarn customer", 5),
        ("/customers?name=100%25", 0),
        ("/heads?casting_number=HC 4417 208", 3),
        ("/heads?serial=none", 0),
        ("/jobs?open=yes", 2),
        ("/jobs?open=no", 0),
        ("/jobs?state=booked in", 1),
        ("/jobs?customer=999", 0),
        ("/sessions?side=intake", 1),
        ("/sessions?side=exhaust", 0),
        ("/measurements?kind=guide clearance", 1),
        ("/measurements?kind=guide bore", 0),
        ("/sessions?job=1999-0001", 0),
        ("/certificates?job=1999-0001", 0),
        ("/engines?builder=Hollin", 2),
        ("/floor", 3),
    ],
)
def test_filters_leave_what_is_asked_for(ask: Ask, db: Session, address: str, count: int):
    assert len(ask(address).json["items"]) == count


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/customers/999", 404, "This customer does not exist."),
        ("/jobs/1999-1", 404, "There is no job 1999-1."),
        ("/nothing", 404, "Page not found."),
        (f"/customers/{'9' * 30}", 404, ""),
        ("/customers?limit=0", 400, "limit: a whole number from 1 to 200"),
        ("/customers?limit=x&colour=red", 400, "colour: this parameter does not exist"),
        ("/customers?after=99999999999999999999", 400, "after: a whole number from 0"),
        ("/jobs?state=lost", 400, "is not a choice: choose booked in"),
        ("/customers/1?limit=3", 400, "limit: this parameter does not exist"),
        ("/customers?name=%00", 400, "name: contains a character that cannot be stored: remove it"),
    ],
)
def test_what_cannot_be_answered_is_a_problem(ask: Ask, db: Session, address, status, words):
    answer = ask(address)
    assert answer.status_code == status
    assert answer.mimetype == "application/problem+json"
    problem = json.loads(answer.data)
    assert problem["status"] == status
    assert words in problem["detail"]


def test_what_did_not_change_is_not_sent_again(ask: Ask, db: Session):
    first = ask("/customers")
    again = ask("/customers", **{"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    factories.create_customer(db)
    assert ask("/customers", **{"If-None-Match": first.headers["ETag"]}).status_code == 200


def test_wrong_tokens_are_counted_and_then_have_to_wait(ask: Ask, db: Session):
    for _ in range(login_throttle.TRIES):
        answer = ask("/floor", Authorization="Bearer wrong")
        assert answer.status_code == 401
        assert 'error="invalid_token"' in answer.headers["WWW-Authenticate"]
    answer = ask("/floor")
    assert answer.status_code == 429
    assert int(answer.headers["Retry-After"]) == 900


@pytest.mark.parametrize(
    "header", ["", "Bearer", "Bearer ", "Basic b3duZXI6", "Bearer \udcff", "x"]
)
def test_odd_headers_are_refused(stranger: Client, header: str):
    values = {"Authorization": header.encode("utf-8", "replace").decode("latin-1")}
    assert stranger.get("/api/1/floor", headers=values).status_code == 401


def test_an_expired_token_opens_nothing(stranger: Client, db: Session):
    long_ago = Actor(None, Actor.now(None).at - timedelta(days=31))
    _, old = api_tokens.make(db, long_ago, factories.token_values("read"))
    answer = stranger.get("/api/1/floor", headers={"Authorization": f"Bearer {old}"})
    assert answer.status_code == 401


def test_the_owner_makes_sees_used_and_revokes_a_token(client: Client, stranger, db: Session):
    page = client.submit("/tokens/new", {"name": "ledger", "days": "90", "scopes": ["read"]})
    secret = page.tree.xpath("//input[@id='secret']")[0].value
    assert page.response.headers["Cache-Control"] == "no-store"
    assert secret not in client.get("/tokens").text
    row = db.scalars(select(ApiToken)).one()
    assert row.token_sha256 == hashlib.sha256(secret.encode()).hexdigest()
    assert "never" in client.page("/tokens").text
    headers = {"Authorization": f"Bearer {secret}"}
    assert stranger.get("/api/1/floor", headers=headers).status_code == 200
    assert "never" not in client.page("/tokens").text
    page = client.press("/tokens", "Revoke ledger")
    assert page.notices == ["The token of ledger is revoked. It no longer works."]
    assert stranger.get("/api/1/floor", headers=headers).status_code == 401
    assert not any(secret in str(event.note) for event in db.scalars(select(Event)))


def test_a_token_needs_a_name(client: Client):
    page = client.submit("/tokens/new", {"name": ""}, status=422)
    assert page.fault("name") == "Required: enter a value"


def test_only_the_owner_makes_tokens(signed_in):
    for role in (Role.MACHINIST, Role.COUNTER, Role.READER):
        for address in ("/tokens", "/tokens/new"):
            signed_in(role).page(address, status=403)
