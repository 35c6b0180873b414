"""Flow tests being taken: shown where people look, discarded once confirmed, restored."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.models import Visit
from shopflow.services.bench import sessions, test_drafts
from shopflow.testfile import SessionDocument
from shopflow.units import parse
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_visit
from tests.optional import present
from tests.web.client import Client

TYPED = {"side": "intake", **{f"rows-{row}-first": "47.8" for row in range(10)}}
WORDS = "Continue the intake test, 10 readings"


def document(**values) -> SessionDocument:
    """A flow test's document, with these values instead of its own."""
    return replace(testfile.loads(INTAKE_US), **values)


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head with an unfinished test."""
    visit = create_visit(db)
    test_drafts.keep(db, BY, visit, key="k", writer="w", seen=0, typed=TYPED)
    return visit


def test_an_unfinished_test_is_shown_on_the_floor_the_head_and_the_job(client: Client, visit):
    for address in (
        "/",
        f"/heads/{visit.tag}",
        f"/heads/{visit.head_id}",
        f"/jobs/{visit.job.number}",
    ):
        page = client.page(address)
        assert page.links.get(WORDS) == f"/heads/{visit.tag}/test", address
        assert "begun Mar 5, 2026" in page.text


def test_a_test_without_a_reading_is_not_listed_as_unfinished(client: Client, db: Session):
    visit = create_visit(db)
    typed = {"side": "intake", "operator": "Odile Marsh", "rows-0-first": " "}
    test_drafts.keep(db, BY, visit, key="k", writer="w", seen=0, typed=typed)
    for address in ("/", f"/heads/{visit.tag}", f"/jobs/{visit.job.number}"):
        assert "0 readings" not in client.page(address).text
    page = client.page(client.page(f"/heads/{visit.tag}").links["Start flow test"])
    assert page.value("operator") == "Odile Marsh"


def test_discarding_asks_first_and_can_be_undone(client: Client, db: Session, visit):
    page = client.page(f"/heads/{visit.tag}/test")
    wanted = client.page(page.links["Discard test"])
    assert "Intake test, 10 readings" in wanted.text
    assert test_drafts.of_head(db, visit) is not None
    page = client.submit(wanted)
    assert WORDS not in page.links
    assert "intake test, 10 readings" in page.text
    (discarded,) = visit.discarded_tests
    page = client.submit(page, action=f"/discarded-tests/{discarded.id}/restore")
    assert page.value("rows-9-first") == "47.8"
    client.page(f"/jobs/{visit.job.number}")


def test_discarding_what_is_not_there_says_so(client: Client, db: Session):
    visit = create_visit(db)
    response = client.get(f"/heads/{visit.tag}/test/discard", follow_redirects=True)
    assert "No flow test of this head is being taken." in response.text


def new_test(client: Client, visit: Visit):
    return client.page(f"/heads/{visit.tag}/test")


def test_room_air_of_an_earlier_day_is_asked_for_and_used_only_once_confirmed(
    client: Client, db: Session
):
    visit = create_visit(db)
    sessions.store(db, BY, visit, document(measured_at=BY.at))
    page = new_test(client, visit)
    assert [page.value(f"air-{key}") for key in ("barometer", "temperature", "humidity")] == [
        "",
        "",
        "",
    ]
    assert "days ago" in page.text
    assert "or confirm that it is the same" in page.text
    data = {**dict(page.form("").form_values()), "use_air": "Use earlier air"}
    confirmed = client._page(client.post(page.path, data=data), 200)
    assert confirmed.value("air-barometer") == document().barometer.text


def test_room_air_of_the_same_day_is_carried_over(client: Client, db: Session):
    visit = create_visit(db)
    now = replace(BY, at=datetime.now(UTC))
    sessions.store(db, now, visit, document(measured_at=now.at))
    page = new_test(client, visit)
    assert page.value("air-barometer") == document().barometer.text
    assert "days ago" not in page.text


def test_the_sizes_of_the_side_chosen_are_loaded(client: Client, db: Session):
    visit = create_visit(db)
    for side, diameter in (("intake", "44 mm"), ("exhaust", "36 mm")):
        sessions.store(db, BY, visit, document(side=side, head_diameter=parse(diameter, "length")))
    page = new_test(client, visit)
    data = {**dict(page.form("").form_values()), "side": "intake", "load_sizes": "Load sizes"}
    loaded = client._page(client.post(page.path, data=data), 200)
    assert loaded.value("valve-head_diameter") == "44 mm"
    answer = client.get(f"/heads/{visit.tag}/test/sizes?side=exhaust&cylinder=")
    value = present(answer.json)
    assert value["fields"]["valve-head_diameter"] == "36 mm"
    assert "valve-count" in value["fields"]


def test_a_size_other_than_the_heads_earlier_test_had_is_said_while_it_is_typed(
    client: Client, db: Session
):
    visit = create_visit(db)
    sessions.store(db, BY, visit, document(head_diameter=parse("44 mm", "length")))
    page = new_test(client, visit)
    values = {
        **dict(page.form("").form_values()),
        **{"side": "intake", "valve-head_diameter": "43 mm", "air-barometer": "100 kPa"},
        **{"air-temperature": "20 degC", "rows-0-first": "47.8", "work_out": "Calculate"},
    }
    response = client.post(page.path, data=values)
    shown = client._page(response, 200)
    assert "Valve head diameter: 43 mm; the intake test of" in shown.text
    assert "had 44 mm" in shown.text
