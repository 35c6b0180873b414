"""A port's sections in the browser: written a row at a time, and shown with a flow in them."""

from __future__ import annotations

import dataclasses

import pytest

from shopflow import testfile
from shopflow.models import Role
from shopflow.services.bench import port_surveys, sections, sessions
from shopflow.services.measuring.measurements import kind_by_code
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_cam, create_session, create_visit
from tests.optional import present

ROWS = {
    "rows-0-distance": "0.5", "rows-0-area": "2.07",
    "rows-2-distance": "25 mm", "rows-2-area": "1.93",
    "rows-3-distance": "2.4", "rows-3-area": "2.00",
}  # fmt: skip
GIVEN = {"side": "intake", "cylinder": "2", **ROWS, "save": "1"}


@pytest.fixture
def visit(db):
    """A head in the shop."""
    answer = create_visit(db, rev_limit_rpm="6500")
    db.commit()
    return answer


@pytest.fixture
def flow_test(db, visit):
    """A test of the intake of cylinder 2."""
    document = dataclasses.replace(testfile.loads(INTAKE_US), cylinder="2")
    return create_session(db, visit, testfile.dumps(document))


def write(db, visit, *rows, **place):
    """Sections of the intake of cylinder 2, in mm and mm2."""
    shared = {"side": "intake", "cylinder": "2", "when": "after", **place}
    values = [{"distance": f"{at} mm", "area": f"{area} mm2"} for at, area in rows]
    sections.record(db, BY, visit, shared, values)


def test_a_row_of_sections_is_kept_and_leads_to_the_port(client, visit):
    page = client.submit(f"/heads/{visit.tag}/sections", GIVEN)
    assert page.heading == "Along the port"
    assert page.notices[0] == "Saved: 3 sections of the intake port."
    rows = [(str(row.distance), str(row.value)) for row in visit.measurements]
    assert rows == [("0.5 in", "2.07 in2"), ("25 mm", "1.93 in2"), ("2.4 in", "2.00 in2")]
    assert "Tightest after the work: 1.930 in² at 0.984 in from the valve seat." in page.text
    assert "There is no flow test for this side" in page.text


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("rows-2-area", "", "Required: enter a value"),
        ("rows-2-distance", "-1", "must be 0 or more"),
        ("rows-2-area", "0", "must be more than 0"),
        ("rows-3-distance", "0.5", "same distance as section 1"),
        ("rows-3-area", "2 psi", "not of area"),
        ("cylinder", "0", "whole number from 1"),
    ],
)
def test_faults_stand_at_their_row_and_nothing_typed_is_lost(client, visit, field, typed, words):
    page = client.submit(f"/heads/{visit.tag}/sections", {**GIVEN, field: typed}, status=422)
    assert words in page.fault(field)
    assert page.value("rows-0-area") == "2.07"
    assert visit.measurements == []


def test_an_empty_row_of_sections_is_refused_at_its_first_field(client, visit):
    page = client.submit(f"/heads/{visit.tag}/sections", {"save": "1"}, status=422)
    assert "enter at least one" in page.fault("rows-0-distance")


def test_more_rows_keep_what_was_typed(client, visit):
    page = client.submit(
        f"/heads/{visit.tag}/sections", {**GIVEN, "save": None, "more_rows": "Add rows"}
    )
    assert page.value("rows-14-area") == ""
    assert page.value("rows-2-distance") == "25 mm"


def test_a_head_without_sections_says_what_to_do(client, visit):
    page = client.page(f"/heads/{visit.tag}/port")
    assert "No port sections yet" in page.text
    assert page.links["Add port sections"] == f"/heads/{visit.tag}/sections"


def test_the_port_is_shown_at_the_latest_test_s_last_lift(client, db, visit, flow_test):
    write(db, visit, (12, 1338), (25, 1246), (60, 1290), when="before")
    page = client.page(f"/heads/{visit.tag}/port")
    assert page.value("test") == str(flow_test.id)
    assert page.value("lift") == str(flow_test.lifts[-1].lift_typed)
    row = next(row for row in page.rows if row[0].startswith("0.984"))
    answer = sections.along_port(visit, port_surveys.ports(visit)[0], flow_test)
    point = answer.surveys[0].points[1]
    # Flow over area, in ft/s: 1 m/s is 3.28084 ft/s (NIST SP 811).
    assert row[2] == f"{present(point.velocity) / 0.3048:.1f}"
    assert row[3:5] == [f"{point.mach:.3f}", "100 %"]
    assert "Mean inlet Mach index" in page.text
    assert "At the job's rev limit of 6500 rpm" in page.text


def test_a_lift_of_another_test_gives_way_to_the_last_and_says_so(client, db, visit, flow_test):
    write(db, visit, (12, 1338), (25, 1246))
    page = client.page(f"/heads/{visit.tag}/port?lift=9.9")
    assert "This test has no lift of 9.9" in page.text
    first = flow_test.lifts[0].lift_typed
    assert client.page(f"/heads/{visit.tag}/port?lift={first}").value("lift") == str(first)


def test_choosing_another_port_lets_go_of_the_test_before(client, db, visit, flow_test):
    write(db, visit, (12, 1338))
    write(db, visit, (12, 900), side="exhaust")
    page = client.page(
        f"/heads/{visit.tag}/port?port=exhaust-2-valve-seat&test={flow_test.id}&lift=0.1"
    )
    assert "There is no flow test for this side" in page.text


@pytest.mark.parametrize("query", ["port=nonsense", "test=999999", "test=x&port=%00"])
def test_what_is_not_on_offer_is_said_at_its_field(client, db, visit, flow_test, query):
    write(db, visit, (12, 1338))
    page = client.page(f"/heads/{visit.tag}/port?{query}", status=422)
    assert "Not shown as chosen" in page.alerts


def test_the_mach_index_is_shown_through_the_cam(client, db, visit, flow_test):
    write(db, visit, (12, 1338))
    create_cam(db, visit.head.engine_type)
    page = client.page(f"/heads/{visit.tag}/port")
    row = next(row for row in page.rows if row[0] == "Mean effective area")
    assert row[2].startswith("mean over the time the cam holds the intake open: Fast road")
    assert "±" in row[1]


def test_what_the_mach_index_lacks_is_named(client, db):
    visit = create_visit(db)
    document = dataclasses.replace(testfile.loads(INTAKE_US), cylinder="2")
    create_session(db, visit, testfile.dumps(document))
    write(db, visit, (12, 1338))
    assert "Missing: the job's rev limit" in client.page(f"/heads/{visit.tag}/port").text


def test_a_single_section_can_be_corrected_with_its_distance(client, db, visit):
    write(db, visit, (12, 1338))
    row = visit.measurements[0]
    page = client.page(f"/measurements/{row.id}/correct")
    assert (page.value("distance"), page.value("datum")) == ("12 mm", "valve seat")
    client.submit(page, {"distance": "13 mm"})
    db.expire_all()
    assert row.where == "cylinder 2 intake, 13 mm from the valve seat"


def test_the_counter_looks_and_the_workshop_writes(signed_in, visit):
    counter = signed_in(Role.COUNTER)
    counter.page(f"/heads/{visit.tag}/port")
    counter.page(f"/heads/{visit.tag}/sections", status=403)


def test_the_figures_of_a_section_open_to_their_working(client, db, visit, flow_test):
    write(db, visit, (0, 1300), (30, 1200))
    page = client.page(f"/heads/{visit.tag}/port")
    links = [link.get("href") for link in page.tree.findall(".//table[@class='figures']//a")]
    assert {link.rpartition("#")[2] for link in links} >= {"velocity", "mach", "tightest"}
    working = client.page(links[0])
    flow = float(sessions.reduction(flow_test).flow[-1])
    assert f"{flow:.6g} m³/s ÷ 0.0013 m² = {flow / 0.0013:.6g} m/s" in working.text
    assert "Mass flow choking" in working.text
    client.page(f"/heads/{visit.tag}/port?tag=x&when=y&_anchor=z&number=1")
    for wrong in ("after/0", "after/3", "before/1", "never/1"):
        client.page(f"/heads/{visit.tag}/port/{wrong}", status=404)


def test_a_head_without_sections_has_no_working(client, visit):
    client.page(f"/heads/{visit.tag}/port/after/1", status=404)


SHAPE = {
    "rows-0-width": "1.75", "rows-0-height": "1.35", "rows-0-perimeter": "5.5",
    "rows-0-short_side_radius": "11 mm",
}  # fmt: skip


def test_the_shape_of_a_section_is_shown_with_its_silhouette(client, visit):
    page = client.submit(f"/heads/{visit.tag}/sections", {**GIVEN, **SHAPE})
    assert page.notices[0] == "Saved: 3 sections of the intake port."
    (row,) = [row for row in page.rows if len(row) == 9 and row[0] == "0.500"]
    # By hand: 4 x 2.07 / 5.5, 1.75 / 1.35, 4 pi 2.07 / 5.5^2, 11 / 25.4 / 1.35.
    assert row[1:] == ["1.750", "1.350", "5.500", "0.433", "1.505", "1.30", "0.86", "0.32"]
    assert "Drawn to scale by areas" in page.text
    assert page.tree.findall(".//*[@class='chart-box']")
    links = [link.get("href") for link in page.tree.findall(".//table[@class='figures']//a")]
    working = client.page(next(link for link in links if link.endswith("#sharpness")))
    assert "0.011 ÷ 0.03429 m = 0.3208" in working.text
    assert "Hydraulic diameter" in working.text


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("rows-0-perimeter", "4", "4 in enclose at most 1.273 in2, less than the area of 2.07 in2"),
        ("rows-0-width", "1.2", "1.2 in by 1.35 in hold at most 1.62 in2"),
        ("rows-0-height", "40", "is not a plausible port height"),
        ("rows-0-short_side_radius", "x", "'x"),
    ],
)
def test_a_shape_that_cannot_be_is_refused_at_its_field(client, visit, field, typed, words):
    given = {**GIVEN, **SHAPE, field: typed}
    page = client.submit(f"/heads/{visit.tag}/sections", given, status=422)
    assert words in page.fault(field)
    assert page.value("rows-0-short_side_radius") == given["rows-0-short_side_radius"]
    assert visit.measurements == []


def test_one_shape_can_be_entered_at_its_distance(client, db, visit):
    write(db, visit, (12, 1338), (25, 1246))
    kind = kind_by_code(db, "port width")
    given = {"side": "intake", "cylinder": "2", "distance": "12 mm", "value": "44.6", "unit": "mm"}
    client.submit(f"/heads/{visit.tag}/measure/{kind.id}", given)
    page = client.page(f"/heads/{visit.tag}/port")
    assert any(row[0] == "0.472" and row[1] == "1.756" for row in page.rows)
