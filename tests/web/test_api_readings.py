"""Readings that a bench posts: into the test being taken there, once, and lost to no page."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import BenchSession, Capture, Role, TestDraft, Visit
from shopflow.services.accounts import api_tokens, users
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, test_drafts
from tests import factories
from tests.optional import present
from tests.web.client import Client

FLOW = [212.1, 212.6, 212.3, 212.5, 212.2]
AIR = {"air-barometer": "996 hPa", "air-temperature": "21 degC", "air-humidity": "40 %"}
Post = Callable[..., Any]


def channel(name: str, unit: str, samples: list[float], **more: Any) -> dict[str, Any]:
    mean, sd = statistics.fmean(samples), statistics.stdev(samples)
    return {"name": name, "unit": unit, "mean": mean, "sd": sd, "samples": samples, **more}


def reading(test: str, lift: str = "0.300 in", **changes: Any) -> dict[str, Any]:
    return {
        "test": test,
        "taken_at": "2026-03-02T10:00:00Z",
        "lift": lift,
        "channels": [
            channel("flow", "cfm", FLOW, instrument="FM 17"),
            channel("test pressure", "inH2O", [28.02, 28.01, 28.03]),
            channel("barometer", "hPa", [996.2, 996.2, 996.2]),
            channel("temperature", "degC", [21.5, 21.5, 21.6]),
            channel("humidity", "%", [41.0, 41.0, 41.0]),
        ],
        **changes,
    }


@pytest.fixture
def visit(db: Session) -> Visit:
    return factories.create_visit(db)


@pytest.fixture
def form(client: Client, db: Session, visit: Visit) -> dict[str, str]:
    """The page of a test as it is opened at a bench, kept as a draft."""
    bench = factories.create_bench(db)
    factories.create_session(db, visit)
    page = client.page(f"/heads/{visit.tag}/test")
    fields = {
        item.name: item.value or ""
        for item in page.tree.xpath("//form[@class='bench']//*[@name]")
        if item.tag in ("input", "select", "textarea") and item.get("type") != "submit"
    }
    return {**fields, "bench-name": bench.name, "idempotency_key": ""}


def keep(client: Client, visit: Visit, form: dict[str, str], **changes: str) -> Any:
    address = f"/heads/{visit.tag}/test/results"
    present(client.release_writes)()
    # A piece of a page, which the checking of whole pages does not fit.
    answer = FlaskClient.open(client, address, method="POST", data={**form, **changes})
    assert answer.status_code == 200, answer.text
    return answer


@pytest.fixture
def post(stranger: Client, client: Client, db: Session, visit: Visit, form) -> Post:
    keep(client, visit, form)
    secret = secret_of(db, form["bench-name"])
    headers = {"Authorization": f"Bearer {secret}"}

    def send(body: dict[str, Any], key: str = "one") -> Any:
        values = {**headers, "Idempotency-Key": key}
        return stranger.post(f"/api/1/visits/{visit.tag}/readings", json=body, headers=values)

    return send


def save(client: Client, visit: Visit, form: dict[str, str]) -> Any:
    """The page's script saves the test."""
    address = f"/heads/{visit.tag}/test"
    present(client.release_writes)()
    headers = {"X-Bench": "save"}
    return FlaskClient.open(client, address, method="POST", data=form, headers=headers)


def secret_of(db: Session, name: str) -> str:
    bench = next(row for row in benches.list_all(db) if row.name == name)
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    values = factories.token_values("bench", bench=bench.id)
    secret = api_tokens.make(db, Actor.now(owner), values)[1]
    db.commit()
    return secret


def draft(db: Session, visit: Visit) -> TestDraft:
    db.rollback()
    db.expire_all()
    return present(test_drafts.of_head(db, visit))


def test_a_reading_fills_the_cells_that_a_person_would(post: Post, db: Session, visit, form):
    answer = post(reading(form["entry"]))
    assert answer.status_code == 201, answer.text
    typed = draft(db, visit).typed
    cell = answer.json["cell"]
    assert typed[cell] == answer.json["typed"] == "212.34 @ 28.02"
    assert float(typed[cell.replace("first", "lift")]) == 0.3
    assert typed["air-barometer"] == "996.2 hPa"
    assert typed["air-temperature"] == "21.5333 degC"
    # By hand: s = 0.20736 cfm, n 5, and no sample takes after the one before.
    assert typed["uncertainty-repeatability"] == "0.0437 %"
    stored = db.scalars(select(Capture)).one()
    assert stored.channels[0]["samples"] == FLOW
    assert stored.channels[0]["instrument"] == "FM 17"


def test_readings_at_one_lift_are_its_runs_until_it_is_full(post: Post, db: Session, visit, form):
    for key in ("one", "two", "three"):
        assert post(reading(form["entry"]), key).status_code == 201
    assert post(reading(form["entry"]), "three").status_code == 201
    answer = post(reading(form["entry"]), "four")
    assert answer.status_code == 409
    assert "three readings at 0.300 in already" in answer.json["detail"]
    assert len(db.scalars(select(Capture)).all()) == 3


def test_lifts_and_flows_come_in_the_units_of_the_test(post: Post, db: Session, visit, form):
    body = reading(form["entry"], lift="7.62 mm")
    body["channels"][0] = channel("flow", "L/s", [value * 0.4719474 for value in FLOW])
    assert post(body).json["typed"] == "212.34 @ 28.02"


def test_a_page_that_has_not_heard_of_a_reading_does_not_undo_it(
    post: Post, client: Client, db: Session, visit: Visit, form: dict[str, str]
):
    answer = post(reading(form["entry"])).json
    keep(client, visit, form, seen="1", **{"rows-0-lift": "0.100"})
    typed = draft(db, visit).typed
    assert typed[answer["cell"]] == "212.34 @ 28.02"
    assert typed["rows-0-lift"] == "0.100"
    # One that has heard of it may correct it.
    keep(client, visit, form, seen="2", captured=str(answer["id"]), **{answer["cell"]: "211"})
    assert draft(db, visit).typed[answer["cell"]] == "211"


def test_the_page_asks_for_what_came_since(post: Post, client: Client, visit: Visit, form):
    address = f"/heads/{visit.tag}/test/captured?entry={form['entry']}&since="
    assert client.get(f"{address}0").json == {"captured": []}
    post(reading(form["entry"], doubts=["not steady after 30 s"]))
    (came,) = present(client.get(f"{address}0").json)["captured"]
    assert came["words"].startswith("0.300 in: 212.34 cfm, scatter 0.21, 5 samples")
    assert came["doubtful"]
    assert client.get(f"{address}{came['id']}").json == {"captured": []}


def test_what_typed_air_a_person_corrects_stays(post, client, db, visit, form):
    first = post(reading(form["entry"])).json
    keep(client, visit, form, seen="1", captured=str(first["id"]),
         **{"air-barometer": "29.50 inHg"})  # fmt: skip
    post(reading(form["entry"]), "two")
    assert draft(db, visit).typed["air-barometer"] == "29.50 inHg"


def test_a_bench_posts_only_to_its_own(post: Post, client: Client, db: Session, visit, form):
    other = factories.create_bench(db, name="Bench B")
    db.commit()
    keep(client, visit, form, seen="1", **{"bench-name": other.name})
    answer = post(reading(form["entry"]))
    assert answer.status_code == 403
    assert "the token is for" in answer.json["detail"]
    keep(client, visit, form, seen="2", **{"bench-name": ""})
    assert post(reading(form["entry"])).status_code == 409
    assert not db.scalars(select(Capture)).all()


def test_the_bench_sees_the_tests_at_it(stranger: Client, post: Post, db: Session, visit, form):
    headers = {"Authorization": f"Bearer {secret_of(db, form['bench-name'])}"}
    answer = present(stranger.get("/api/1/bench", headers=headers).json)
    assert answer["name"] == form["bench-name"]
    assert [(item["tag"], item["test"]) for item in answer["tests"]] == [(visit.tag, form["entry"])]
    assert stranger.get("/api/1/customers", headers=headers).status_code == 403


def test_a_reading_that_comes_too_late_says_so(post: Post, client: Client, db, visit, form):
    saved = {**form, **AIR, "save": "1", "captured": "0"}
    row = next(name for name in form if name.endswith("-lift"))
    saved |= {row: "0.1", row.replace("lift", "first"): "41"}
    answer = save(client, visit, saved)
    assert answer.status_code == 201, answer.text
    late = post(reading(form["entry"]))
    assert late.status_code == 409
    assert "saved already" in late.json["detail"]


def test_a_test_is_not_saved_without_a_reading_that_just_came(post, client, db, visit, form):
    first = post(reading(form["entry"])).json
    saved = {**form, **AIR, "save": "1", "rows-0-lift": "0.1", "rows-0-first": "41"}
    before = len(db.scalars(select(BenchSession)).all())
    answer = save(client, visit, saved)
    assert answer.status_code == 422
    assert "A reading came in while you pressed" in present(answer.json)[""]
    saved["captured"] = str(first["id"])
    answer = save(client, visit, saved)
    assert answer.status_code == 201, answer.text
    assert len(db.scalars(select(BenchSession)).all()) == before + 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"channels": []}, "channels"),
        ({"lift": "0 in"}, "lift"),
        ({"lift": "3 cfm"}, "lift"),
        ({"channels": [channel("flow", "cfm", FLOW) | {"mean": 212.9}]}, "channels[1]"),
        ({"channels": [channel("flow", "cfm", FLOW) | {"sd": 0.5}]}, "channels[1]"),
        ({"channels": [channel("flow", "mm", FLOW)]}, "channels"),
        ({"channels": [channel("flow", "furlong", FLOW)]}, "channels[1]"),
        ({"channels": [channel("flow", "cfm", [-1.0, -1.1])]}, "channels[1]"),
        ({"channels": [channel("flow", "cfm", FLOW)] * 2}, "channels"),
        ({"taken_at": "2026-03-02T10:00:00"}, "taken_at"),
    ],
)
def test_what_cannot_be_a_reading_is_refused(post: Post, db: Session, form, change, field):
    answer = post(reading(form["entry"], **change))
    assert answer.status_code == 422, answer.text
    assert field in {fault["field"] for fault in answer.json["errors"]}
    assert not db.scalars(select(Capture)).all()
