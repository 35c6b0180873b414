"""Velocity maps: added from a probe's readings, shown, printed, refused and discarded."""

from __future__ import annotations

import math

import pymupdf
import pytest
from sqlalchemy import select

from shopflow.models import BenchSession, Event, VelocityMap, Visit
from shopflow.services.bench import sessions, velocity_maps
from tests import factories
from tests.cli.sessions import EXHAUST_SI

RINGS = ((0.358, "4.9"), (0.730, "3.6"), (0.936, "2.2"))
READINGS = "5\n" + "\n".join(" ".join([cell] * 4) for _, cell in RINGS)


@pytest.fixture
def visit(db) -> Visit:
    visit = factories.create_visit(db)
    factories.create_session(db, visit)
    db.commit()
    return visit


def typed(row: BenchSession, **changes: str) -> dict[str, str]:
    return {
        "session_id": str(row.id),
        "lift": "0.40 in",
        "place": "20 mm inside the port flange",
        "outline": "round or oval",
        "width": "34 mm",
        "arms": "4",
        "rings": "3",
        "pressure_unit": "inH2O",
        "readings": READINGS,
    } | changes


def rows_of(page):
    return {row[0]: row[1:] for row in page.rows}


def test_a_map_is_added_shown_and_printed_alike(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/velocity-maps")
    assert "No velocity maps yet." in page.text
    page = client.submit(page.links["Add velocity map"], typed(visit.sessions[0]))
    assert page.heading == "Velocity map"
    rows = rows_of(page)
    assert float(rows["Energy factor α"][0]) > 1.0
    assert "at 0.40 in of lift" in page.text
    assert "20 mm inside the port flange" in page.text
    paper = client.get(page.links["Print (PDF)"])
    with pymupdf.open(stream=paper.data) as document:
        printed = " ".join("".join(sheet.get_text() for sheet in document).split())
    for name in ("Mean velocity", "Energy factor α", "Kinetic energy", "Against the bench"):
        assert rows[name][0].replace("\u00a0", " ") in printed.replace("\u00a0", " "), name
    listed = client.page(f"/heads/{visit.tag}/velocity-maps")
    assert f"{float(rows['Energy factor α'][0]):.2f}" in listed.text


def test_even_air_is_worked_out_by_hand(client, db, visit):
    """Drawn in from rest at room pressure, 10 inH2O lower at every place of 30 mm."""
    row = factories.create_velocity_map(db, visit.sessions[0])
    even = velocity_maps.mapped(row)
    test = sessions.reduction(row.session)
    room, kelvin = test.test.barometer, test.test.temperature
    cooled = ((room - 10 * 249.08891) / room) ** (0.4 / 1.4)
    speed = math.sqrt(7.0 * 287.05 * kelvin * (1.0 - cooled))
    assert even.results.mean_velocity == pytest.approx(speed, rel=1e-9)
    assert even.results.energy_factor == pytest.approx(1.0, rel=1e-9)
    static = (room - 10 * 249.08891) / (287.05 * kelvin * cooled)
    flow = static / test.air_density * speed * math.pi / 4 * 0.03**2
    assert even.results.flow == pytest.approx(flow, rel=1e-9)
    assert even.bench_flow == pytest.approx(test.flow_as_tested[-1], rel=1e-12)
    power = 0.5 * test.air_density * even.bench_flow * (even.bench_flow / even.section.area) ** 2
    assert even.energy == pytest.approx(power, rel=1e-12)


def test_blown_out_the_air_is_above_room_pressure(db, visit):
    intake = visit.sessions[0]
    rows = factories.create_session(db, visit, EXHAUST_SI), intake
    out, drawn = (velocity_maps.mapped(factories.create_velocity_map(db, row)) for row in rows)
    assert out.test.test.side == "exhaust"
    # The same difference in denser air is slower.
    assert out.results.mean_velocity < drawn.results.mean_velocity


def test_a_flow_far_from_the_bench_s_is_said(client, db, visit):
    page = client.page(f"/velocity-maps/{factories.create_velocity_map(db, visit.sessions[0]).id}")
    share = float(rows_of(page)["Against the bench"][0].removesuffix(" %"))
    assert ("The probe and the bench differ by more than 5 %" in page.text) == (
        abs(share - 100.0) > 5.0
    )


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"readings": "5\n1 1 1 1"}, "readings", "Enter 4 lines: the middle, then each ring"),
        ({"readings": READINGS.replace("4.9", "", 1)}, "readings", "Line 2: enter 4 readings"),
        ({"readings": READINGS.replace("4.9", "x", 1)}, "readings", "Line 2: 'x' is no reading"),
        ({"readings": READINGS.replace("4.9", "-1", 1)}, "readings", "Line 2: '-1' is no reading"),
        ({"readings": READINGS.replace("4.9", "nan", 1)}, "readings", "'nan' is no reading"),
        ({"readings": "0\n0 0 0 0\n0 0 0 0\n0 0 0 0"}, "readings", "Every reading is 0"),
        ({"readings": READINGS.replace("5\n", "9e5\n")}, "readings", "above the pressure"),
        ({"readings": "", "place": "x" * 300}, "place", "too long"),
        ({"lift": "9 in"}, "lift", "'9 in' was not tested: enter"),
        ({"lift": ""}, "lift", "Required"),
        ({"width": "3 m"}, "width", "Enter 1 mm to 500 mm"),
        ({"coefficient": "7"}, "coefficient", "Enter 0.5 to 1.5"),
        ({"session_id": "999999"}, "session_id", ""),
    ],
    ids=lambda value: str(value)[:30],
)
def test_what_cannot_be_is_refused_at_its_field(client, db, visit, change, field, says):
    values = typed(visit.sessions[0], **change)
    page = client.submit(f"/heads/{visit.tag}/velocity-maps/new", values, status=422)
    assert says in page.fault(field)
    assert page.value("width") == values["width"]
    assert not db.scalars(select(VelocityMap)).all()


def test_a_map_is_discarded_and_the_log_says_so(client, db, visit):
    row = factories.create_velocity_map(db, visit.sessions[0])
    db.commit()
    address = f"/velocity-maps/{row.id}"
    page = client.press(address, "Discard velocity map")
    assert "The velocity map is discarded." in page.notices
    assert not db.scalars(select(VelocityMap)).all()
    assert {
        event.verb for event in db.scalars(select(Event)) if event.subject == "velocity_map"
    } == {
        "added",
        "discarded",
    }
    client.page(address, status=404)


def test_a_head_without_tests_has_nothing_to_map(client, db):
    visit = factories.create_visit(db)
    page = client.page(f"/heads/{visit.tag}/velocity-maps")
    assert "No flow tests yet: a velocity map is read beside one." in page.text
    assert "Add velocity map" not in page.links
