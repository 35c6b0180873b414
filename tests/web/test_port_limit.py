"""The page of what limits a port."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from shopflow import testfile
from shopflow.services.bench import sections
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_session, create_visit


@pytest.fixture
def visit(db):
    """A head in the shop."""
    answer = create_visit(db)
    db.commit()
    return answer


@pytest.fixture
def flow_test(db, visit):
    """A test of the intake of cylinder 2, with a section of its port."""
    document = dataclasses.replace(testfile.loads(INTAKE_US), cylinder="2")
    row = create_session(db, visit, testfile.dumps(document))
    shared = {"side": "intake", "cylinder": "2", "when": "after"}
    sections.record(db, BY, visit, shared, [{"distance": "25 mm", "area": "900 mm2"}])
    db.commit()
    return row


def test_a_head_without_a_seat_stated_says_what_is_missing(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/port/limit")
    assert "No flow test of this head states its seat yet" in page.text
    document = testfile.loads(INTAKE_US)
    names = ("stem_diameter", "seat_angle", "seat_width", "throat_diameter")
    without: dict[str, Any] = dict.fromkeys(names)
    bare = dataclasses.replace(document, **without)
    create_session(db, visit, testfile.dumps(bare))
    db.commit()
    assert "No flow test of this head" in client.page(f"/heads/{visit.tag}/port/limit").text


def test_the_page_names_places_and_asks_for_uncertainties(client, visit, flow_test):
    page = client.page(f"/heads/{visit.tag}/port/limit")
    assert page.heading == "What limits the port"
    for words in (
        "Section 25 mm from the valve seat",
        "no uncertainty is stated of Valve head diameter",
        "not tested",
        "Geometry, not flow",
    ):
        assert words in page.text, words
    assert "not tested" in page.text


def test_sizes_on_paper_are_shown_beside_the_port_as_it_is(client, visit, flow_test):
    page = client.page(
        f"/heads/{visit.tag}/port/limit?test={flow_test.id}&areas-0=990+mm2&seat_angle=39"
    )
    assert "On paper:" in page.text
    assert "+10.0 %" in page.text
    assert "geometry, not flow" in page.text
    assert page.value("seat_angle") == "39"
    assert page.value("areas-0") == "990 mm2"


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ("throat_diameter=3+in", "throat_diameter", "not smaller than the head"),
        ("seat_angle=x", "seat_angle", "as '45 deg'"),
        ("areas-0=0", "areas-0", "more than 0"),
        ("areas-0=2+psi", "areas-0", "not of area"),
        ("test=999999", "test", "Not on the list"),
    ],
)
def test_faults_stand_at_their_field_and_the_port_as_it_is_stays_shown(
    client, visit, flow_test, query, field, words
):
    page = client.page(f"/heads/{visit.tag}/port/limit?{query}", status=422)
    assert words in page.fault(field)
    assert "Narrowest place" in page.text
    assert "On paper:" not in page.text


def test_more_areas_than_sections_are_left_alone(client, visit, flow_test):
    page = client.page(f"/heads/{visit.tag}/port/limit?areas-0=&areas-7=900+mm2")
    assert "On paper:" not in page.text
