"""Swirl and tumble tests: added, shown, printed, compared, refused, discarded, and certified."""

from __future__ import annotations

import json

import pymupdf
import pytest
from jsonschema import Draft202012Validator
from sqlalchemy import select

from shopflow.documents import machine_readable
from shopflow.errors import ValidationError
from shopflow.models import BenchSession, Event, SwirlTest, Visit
from shopflow.services.bench import swirl_tests
from shopflow.services.engine import swirl_sheets
from tests import factories
from tests.cli.sessions import EXHAUST_SI


@pytest.fixture
def visit(db) -> Visit:
    visit = factories.create_visit(db)
    factories.create_session(db, visit)
    db.commit()
    return visit


def typed(row: BenchSession, **changes: str) -> dict[str, str]:
    lifts = [lift.lift_typed for lift in row.lifts]
    readings = [f"{lifts[0]} -1.2", f"{lifts[0]} -1.0"]
    readings += [f"{lift} {place * 9}" for place, lift in enumerate(lifts[1:], start=1)]
    return {
        "session_id": str(row.id),
        "motion": "tumble",
        "meter_kind": "torque of a honeycomb",
        "meter": "T-1",
        "bore": "90 mm",
        "adapter": "L-shaped adapter",
        "rotation": "clockwise",
        "reading_unit": "N.mm",
        "readings": "\n".join(readings),
        "efficiency": "0.83",
        "efficiency_uncertainty": "6",
        "division": "0.2",
    } | changes


def test_a_test_is_added_shown_and_printed_alike(client, db, visit):
    factories.create_cam(db, visit.head.engine_type)
    db.commit()
    page = client.page(f"/heads/{visit.tag}/swirl")
    assert "No swirl or tumble tests yet." in page.text
    page = client.submit(page.links["Add swirl test"], typed(visit.sessions[0]))
    assert page.heading == "Tumble test"
    rows = {row[0]: row[1:] for row in page.rows}
    assert float(rows["Tumble ratio over the cam"][0].split()[0]) > 0.0
    assert "Turns back below" in rows
    assert "0.83 ± 6 % (k = 2)" in page.text
    paper = client.get(page.links["Print (PDF)"])
    with pymupdf.open(stream=paper.data) as document:
        printed = " ".join("".join(sheet.get_text() for sheet in document).split())
    assert rows["Tumble ratio over the cam"][0] in printed
    listed = client.page(f"/heads/{visit.tag}/swirl")
    assert rows["Tumble ratio over the cam"][0] in listed.text
    head = client.page(f"/heads/{visit.tag}")
    assert f"ratio {rows['Tumble ratio over the cam'][0]}" in head.text


def test_without_an_efficiency_the_page_says_indicated(client, db, visit):
    values = typed(visit.sessions[0], efficiency="", efficiency_uncertainty="")
    page = client.submit(f"/heads/{visit.tag}/swirl/new", values)
    assert "The efficiency of the meter is not stated" in page.text
    assert "No cam of this job or engine type is on record" in page.text
    row = db.scalars(select(SwirlTest)).one()
    content = swirl_sheets.result(db, row)
    assert content.points[0].coefficient is None
    assert content.points[0].coefficient_indicated_margin is not None


def test_tests_read_alike_are_compared_and_unlike_ones_get_no_verdict(client, db, visit):
    lifts = [lift.lift_typed for lift in visit.sessions[0].lifts]
    more = "\n".join(f"{lift} {place * 14 + 2}" for place, lift in enumerate(lifts))
    first = swirl_tests.add(db, factories.BY, visit, typed(visit.sessions[0]))
    second = swirl_tests.add(db, factories.BY, visit, typed(visit.sessions[0], readings=more))
    third = swirl_tests.add(db, factories.BY, visit, typed(visit.sessions[0], efficiency="0.9"))
    db.commit()
    page = client.page(f"/swirl-tests/{second.id}")
    assert "Mean coefficient over the lifts both cover" in page.text
    assert "More." in page.text
    page = client.page(f"/swirl-tests/{third.id}?before={first.id}")
    assert "Not read alike (efficiency): no verdict on the head." in page.text
    assert "More." not in page.text
    client.page(f"/swirl-tests/{third.id}?before=999999")


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"readings": ""}, "readings", "Enter readings at two lifts or more"),
        ({"readings": "0.1 2 3\n0.2 4"}, "readings", "Line 1: enter a lift and a reading"),
        ({"readings": "0.1 x\n0.2 4"}, "readings", "Line 1: 'x' is no number"),
        ({"readings": "-0.1 3\n0.2 4"}, "readings", "enter a lift above 0"),
        ({"readings": "0.1 0\n0.2 0"}, "readings", "Every reading is 0"),
        ({"readings": "0.1 3\n9 4"}, "readings", "The flow test has no lift of 9"),
        ({"readings": "\n".join(["0.1 1", "0.2 2"] * 101)}, "readings", "at most 200 lines"),
        ({"reading_unit": "rpm"}, "reading_unit", "This meter reads in N.m"),
        ({"bore": "900 mm"}, "bore", "Enter 20 mm to 500 mm"),
        ({"bore": ""}, "bore", "Required"),
        ({"efficiency": "85"}, "efficiency", "Enter 0.05 to 1.2"),
        ({"efficiency": ""}, "efficiency", "Enter the efficiency that is uncertain"),
        ({"efficiency_uncertainty": "101"}, "efficiency_uncertainty", "Enter 0 to 100 %"),
        ({"pressure": "30 psi"}, "pressure", "Enter less than the barometer"),
        ({"session_id": "999999"}, "session_id", ""),
    ],
    ids=lambda value: str(value)[:30],
)
def test_what_cannot_be_is_refused_at_its_field(client, db, visit, change, field, says):
    values = typed(visit.sessions[0], **change)
    page = client.submit(f"/heads/{visit.tag}/swirl/new", values, status=422)
    assert says in page.fault(field)
    assert page.value("adapter") == "L-shaped adapter"
    assert not db.scalars(select(SwirlTest)).all()


def test_an_exhaust_has_no_swirl(client, db):
    visit = factories.create_visit(db)
    row = factories.create_session(db, visit, EXHAUST_SI)
    db.commit()
    page = client.page(f"/heads/{visit.tag}/swirl")
    assert "No flow test of an intake yet" in page.text
    assert "Add swirl test" not in page.links
    with pytest.raises(ValidationError):
        swirl_tests.add(db, factories.BY, visit, typed(row))


def test_a_test_is_discarded_and_logged_but_not_once_certified(client, db, visit):
    row = factories.create_swirl_test(db, visit.sessions[0])
    db.commit()
    page = client.press(f"/swirl-tests/{row.id}", "Discard test")
    assert "The test is discarded." in page.notices
    assert not db.scalars(select(SwirlTest)).all()
    verbs = {event.verb for event in db.scalars(select(Event)) if event.subject == "swirl_test"}
    assert verbs == {"added", "discarded"}
    kept = factories.create_swirl_test(db, visit.sessions[0])
    factories.issue_certificate(db, factories.someone(db), [visit.sessions[0]])
    db.commit()
    page = client.press(f"/swirl-tests/{kept.id}", "Discard test", status=409)
    assert "cannot be discarded" in page.text
    assert db.scalars(select(SwirlTest)).all()


@pytest.mark.source("JSON Schema 2020-12, by jsonschema 4.26")
def test_a_certificate_states_it_on_paper_and_for_programs(client, db, visit):
    factories.create_cam(db, visit.head.engine_type)
    row = factories.create_swirl_test(db, visit.sessions[0])
    certificate = factories.issue_certificate(db, factories.someone(db), [visit.sessions[0]])
    db.commit()
    with pymupdf.open(stream=certificate.pdf) as document:
        printed = " ".join("".join(sheet.get_text() for sheet in document).split())
        names = document.embfile_names()
        name = next(name for name in names if name.endswith(".json"))
        results = json.loads(document.embfile_get(name))
    assert "Tumble: " in printed
    assert "impulse (torque) meters" in printed
    Draft202012Validator(json.loads(machine_readable.schema())).validate(results)
    (stated,) = results["swirl"]
    content = swirl_sheets.result(db, row)
    assert stated["ratios"][0]["over_cam"]["value"] == pytest.approx(
        content.ratios[0].over_cam, rel=1e-6
    )
    assert {column["key"] for column in stated["results"]} >= {"lift", "cd_head", "coefficient"}
