"""Fixtures in the browser: their pages, set-ups by tapping, and comparisons across unlike ones."""

from __future__ import annotations

import io

from shopflow.services.bench import fixtures
from shopflow.web.api.shapes.flow_test import Session
from tests import photos
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.factories import BY, create_engine_type, create_fixture, create_session, create_visit
from tests.optional import present
from tests.services.test_fixtures import BARE, DRESSED, on
from tests.web.test_comparisons import compared
from tests.web.test_sessions import enter_test


def test_a_fixture_is_added_with_a_photo_changed_archived_and_restored(client, db):
    assert "No fixtures yet" in client.page("/fixtures").text
    page = client.submit("/fixtures/new", {"kind": "bore sleeve", "bore": "wide"}, status=422)
    assert page.fault("name")
    assert page.fault("bore")
    assert page.value("bore") == "wide"
    photo = (io.BytesIO(photos.jpeg()), "sleeve.jpg")
    page = client.submit(page, {"name": "S-86", "bore": "86 mm", "photo_file": photo})
    (row,) = fixtures.list_all(db)
    assert "bore 86 mm" in page.text
    for address in ("photo", "photo/small"):
        answer = client.get(f"/fixtures/{row.id}/{address}")
        assert (answer.status_code, answer.mimetype) == (200, "image/jpeg")
    client.submit(f"/fixtures/{row.id}/change", {"notes": "the one with the step"})
    assert "the one with the step" in client.page("/fixtures").text
    page = client.press("/fixtures", "Archive S-86")
    assert "archived" in page.rows[0][0]
    assert "is offered again" in client.press(page, "Restore S-86").text


def test_what_is_no_picture_is_refused_at_its_field(client):
    photo = (io.BytesIO(b"no picture"), "sleeve.jpg")
    page = client.submit("/fixtures/new", {"name": "S-86", "photo_file": photo}, status=422)
    assert page.fault("photo_file")
    assert page.value("name") == "S-86"


def test_a_fixture_without_a_photo_has_none_to_show(client, db):
    row = create_fixture(db)
    assert client.get(f"/fixtures/{row.id}/photo").status_code == 404


def test_a_test_states_what_was_tapped_and_the_next_one_starts_with_it(client, db):
    visit = create_visit(db)
    sleeve = create_fixture(db, kind="bore sleeve", name="S-86", bore="86 mm")
    tapped = {"set_up-sleeve": sleeve.stated, "set_up-manifold": "none", "set_up-spark_plug": "in"}
    page = enter_test(client, visit, {"save": "Save test", **tapped})
    (row,) = visit.sessions
    assert (row.set_up_sleeve, row.set_up_manifold) == ("S-86, bore 86 mm", "none")
    assert "bore sleeve S-86, bore 86 mm; manifold none; spark plug in" in page.text
    page = client.page(f"/heads/{visit.tag}/test")
    checked = page.tree.xpath("//input[@type='radio'][@checked]")
    values = {box.get("name"): box.get("value") for box in checked}
    assert values["set_up-sleeve"] == "S-86, bore 86 mm"
    assert values["set_up-header"] == ""
    fixtures.archive(db, BY, sleeve)
    # What the last test stood on stays an answer, though it is archived.
    page = client.page(f"/heads/{visit.tag}/test")
    assert page.tree.xpath("//input[@value='S-86, bore 86 mm'][@checked]")


def test_unlike_set_ups_get_a_verdict_only_once_it_is_confirmed(client, db):
    visit = create_visit(db)
    before = create_session(db, visit, on(INTAKE_US, **BARE))
    after = create_session(db, visit, on(AFTER_US, **DRESSED))
    page = client.page(compared(before, after))
    assert "The set-ups are unlike (manifold: none, against M-2)" in page.text
    assert "no verdict" in page.text
    page = client.submit(page, {"reason": ""}, status=422)
    assert page.fault("reason")
    page = client.submit(page, {"reason": "with the manifold"})
    assert "The comparison is confirmed." in page.text
    assert "Unlike set-ups, compared as meant: with the manifold" in page.text
    assert "no verdict" not in page.text
    assert "Confirm comparison" not in page.text


def test_a_test_that_states_nothing_may_be_confirmed_as_the_same(client, db):
    visit = create_visit(db)
    before = create_session(db, visit, INTAKE_US)
    after = create_session(db, visit, on(AFTER_US, **BARE))
    page = client.page(compared(before, after))
    assert "Only one of the tests states its set-up" in page.text
    page = client.submit(page, {"way": "same", "reason": "same sleeve"})
    assert "Confirmed as the same set-up by" in page.text


def test_two_tests_that_state_nothing_are_compared_with_a_plain_remark(client, db):
    visit = create_visit(db)
    rows = [create_session(db, visit, text) for text in (INTAKE_US, AFTER_US)]
    page = client.page(compared(*rows))
    assert "Neither test states its set-up" in page.text
    assert "Confirm comparison" not in page.text


def test_the_cost_of_an_attached_part_is_a_table_of_its_own(client, db):
    visit = create_visit(db)
    before = create_session(db, visit, on(AFTER_US.replace("seat cut", "as cut"), **BARE))
    after = create_session(db, visit, on(INTAKE_US, **DRESSED))
    page = client.page(compared(before, after))
    assert "What the manifold costs: M-2" in page.text
    assert "An estimate: port and part are taken as two restrictions" in page.text


def test_the_api_states_set_ups_and_why_nothing_is_concluded(client, db):
    visit = create_visit(db)
    create_session(db, visit, on(INTAKE_US, **BARE))
    after = create_session(db, visit, on(AFTER_US, **DRESSED))
    answer = Session.of(after)
    assert [(item.part, item.stated) for item in answer.set_up] == [
        ("sleeve", "S-86, bore 86 mm"), ("manifold", "M-2"),
    ]  # fmt: skip
    gain = present(answer.gain)
    assert "manifold: none, against M-2" in gain.unlike_set_ups
    assert present(gain.mean).finding == "not stated"
    assert present(gain.mean).expanded_uncertainty_percent is None


def test_a_test_being_taken_says_that_it_stands_on_another_set_up(client, db):
    visit = create_visit(db)
    create_session(db, visit, on(INTAKE_US, **BARE))
    tapped = {"set_up-sleeve": BARE["sleeve"], "set_up-manifold": "M-2"}
    page = enter_test(client, visit, tapped, button="Calculate")
    assert "The set-up is not that of the earlier test (manifold: none, against M-2" in page.text
    alike = {"set_up-sleeve": BARE["sleeve"], "set_up-manifold": "none"}
    page = enter_test(client, visit, alike, button="Calculate")
    assert "not that of the earlier test" not in page.text


def test_past_results_of_several_set_ups_say_so(client, db):
    engine_type = create_engine_type(db)
    for parts in (BARE, BARE, DRESSED):
        create_session(db, create_visit(db, engine_type=engine_type), on(INTAKE_US, **parts))
    page = client.page(f"/engines/{engine_type.id}")
    assert "These tests were made on 2 set-ups" in page.text
    other = create_engine_type(db)
    create_session(db, create_visit(db, engine_type=other), on(INTAKE_US, **BARE))
    assert "These tests were made on" not in client.page(f"/engines/{other.id}").text
