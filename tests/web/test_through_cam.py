"""The page of a head's ports through a cam, its sheet, and where it is found."""

from __future__ import annotations

import pymupdf
import pytest

from shopflow.services.engine import cams
from tests import factories
from tests.cli.sessions import EXHAUST_SI, INTAKE_US
from tests.factories import BY
from tests.services.test_through_cam import CUT, SURE
from tests.unit.camfile.documents import CAM


@pytest.fixture
def visit(db):
    """A head tested before and after its seats were cut, and its exhaust."""
    visit = factories.create_visit(db)
    for text in (SURE, EXHAUST_SI, CUT):
        factories.create_session(db, visit, text)
    return visit


def test_a_head_without_a_cam_says_how_to_get_one(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/cam")
    assert "No cam yet" in page.text
    assert page.links["Add job’s cam"] == f"/jobs/{visit.job.number}/cams/new"
    assert client.get(f"/papers/through-cam/{visit.tag}.pdf").status_code == 404


def test_the_page_shows_gain_areas_overlap_and_mach_index(client, db, visit):
    factories.create_cam(db, visit.job)
    factories.create_cam(
        db, visit.head.engine_type, CAM.replace("9.00 mm", "14 mm").replace("Fast", "Slow")
    )
    page = client.page(f"/heads/{visit.tag}")
    page = client.page(page.links["Show through cam"])
    assert "the customer’s own cam: 86.4 mm × 3.40 in at 6500 rpm" in page.text
    assert "in mean effective area over the cam: gain" in page.text
    tests = [row[0].partition(":")[0] for row in page.rows if ":" in row[0]]
    assert tests == ["Intake", "Intake", "Exhaust"]
    assert "Filling falls steeply above about 0.5 (JSME" in page.text
    assert "The intake lobe is a stand-in" in page.text
    assert [row[0] for row in page.rows if row[-1] == "gain"] == ["Fast road", "Slow road"]
    names = [row[0] for row in page.rows]
    assert {"Overlap", "Blow-down", "Mean inlet Mach index"} <= set(names)


def test_another_cam_and_other_tests_are_chosen_in_the_address(client, db, visit):
    factories.create_cam(db, visit.job)
    high = factories.create_cam(
        db, visit.head.engine_type, CAM.replace("9.00 mm", "14 mm").replace("Fast", "High")
    )
    first = next(row for row in visit.sessions if row.stage == "as received")
    page = client.page(f"/heads/{visit.tag}/cam?cam={high.id}&intake={first.id}")
    assert "of the open time is above the last lift tested, 0.450 in" in page.text
    assert "over the cam:" not in page.text
    assert page.value("cam") == str(high.id)
    assert page.value("exhaust") == ""
    page = client.page(f"/heads/{visit.tag}/cam?cam={high.id}&intake=")
    assert "No flow tests chosen" in page.text


def test_what_is_not_on_offer_is_refused_at_its_field(client, db, visit):
    factories.create_cam(db, visit.job)
    page = client.page(f"/heads/{visit.tag}/cam?cam=4711&intake=no", status=422)
    assert "Not shown as chosen." in page.alerts
    assert page.fault("cam")
    assert page.fault("intake")


def test_an_archived_cam_is_not_offered(client, db, visit):
    cams.archive(db, BY, factories.create_cam(db, visit.job))
    assert "No cam yet" in client.page(f"/heads/{visit.tag}/cam").text


def test_the_sheet_has_what_the_page_has(client, db, visit):
    factories.create_cam(db, visit.job)
    page = client.page(f"/heads/{visit.tag}/cam")
    answer = client.get(page.links["Print (PDF)"])
    assert answer.mimetype == "application/pdf"
    with pymupdf.open(stream=answer.data) as file:
        assert len(file) <= 2
        text = " ".join("".join(sheet.get_text() for sheet in file).split())
    for words in ("Through the cam: Fast road", "blow-down", "overlap, both in series",
                  "Mean inlet Mach index", "Air and power potential", "stand-in",
                  visit.tag):  # fmt: skip
        assert words in text, words
    _, gain, opening, shape, _ = next(row for row in page.rows if row[-1] == "gain")
    for words in (gain, "Opening", opening, "All else", shape):
        assert words in text, words


def test_a_bare_intake_test_states_no_uncertainty_and_says_why(client, db):
    visit = factories.create_visit(db)
    bare = INTAKE_US.partition("[uncertainty]")[0] + INTAKE_US[INTAKE_US.index("[readings]") :]
    single = bare.replace("[23.5, 23.9]", "[23.5]").replace("[101.0, 101.5, 100.8]", "[101.0]")
    single = single.replace("[140.5, 141.0]", "[140.5]").replace("[164.0, 164.4]", "[164.0]")
    factories.create_session(db, visit, single)
    factories.create_session(db, visit, single.replace("[47.8]", "[49.8]"))
    factories.create_cam(db, visit.job)
    page = client.page(f"/heads/{visit.tag}/cam")
    assert "not stated" in page.text
    assert "enter one division of the scale as its resolution" in page.text
