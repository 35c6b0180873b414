"""A range calibrated by points, its leak test, and the sizes' uncertainty, on the pages."""

from __future__ import annotations

import re
from typing import Any

import pytest

from shopflow import testfile
from shopflow.models import Role
from shopflow.services.bench import sessions
from tests import factories
from tests.cli.sessions import INTAKE_US

ROWS = (
    ("20", "19.6", "2"), ("60", "60.1", "1"), ("100", "101", "1"), ("140", "142.2", "1"),
    ("180", "183", "1"),
)  # fmt: skip
BENT = (
    ("20", "19.6", "0.5"), ("60", "63", "0.5"), ("100", "105", "0.5"), ("140", "142.2", "0.5"),
    ("180", "176", "0.5"),
)  # fmt: skip


SHOW = {"show_fit": "Show fit"}


def typed(rows: tuple[tuple[str, str, str], ...] = ROWS) -> dict[str, Any]:
    """A calibration by points as its form is filled in."""
    values = {"identifier": "N-1", "made_on": "2026-01-05", "model": "line"}
    for index, row in enumerate(rows):
        names = ("reading", "flow", "uncertainty")
        values |= {f"points-{index}-{n}": text for n, text in zip(names, row, strict=True)}
    return values


@pytest.fixture
def scale(db):
    """The range of a bench read in volume flow."""
    range_ = factories.create_bench(db).ranges[0]
    db.commit()
    return range_


def address(scale) -> str:
    return f"/benches/ranges/{scale.id}/calibrate"


def test_a_fit_is_shown_before_it_is_saved_and_after(client, db, scale):
    page = client.submit(address(scale), {**typed(), **SHOW})
    assert "straight line through 5 points" in page.text
    assert "The points lie as near to it as their uncertainties say" in page.text
    assert "fit ± U" in page.text
    assert len([row for row in page.rows if len(row) == 6]) == 5
    assert scale.calibrations == []
    page = client.submit(page, {})
    db.expire_all()
    (created,) = scale.calibrations
    assert [str(number) for number in created.flows] == ["19.6", "60.1", "101", "142.2", "183"]
    row = next(row for row in page.rows if row[0].startswith("N-1"))
    assert row[3] == "5 points"
    page = client.page(f"/benches/calibrations/{created.id}")
    assert "straight line through 5 points" in page.text
    assert "Shared by all points" in page.text


def test_a_bad_fit_is_said_in_words(client, scale):
    page = client.submit(address(scale), {**typed(BENT), **SHOW})
    assert "A poor fit" in page.text
    assert "farther from the straight line than their uncertainties allow" in page.text
    assert "choose a higher curve" in page.text
    assert "beyond it" in page.text


def test_more_rows_keep_what_is_typed(client, scale):
    page = client.submit(address(scale), {**typed(), "more_rows": "Add rows"})
    assert page.value("points-4-reading") == "180"
    assert page.value("points-9-reading") == ""


def test_a_point_that_cannot_be_is_refused_at_its_cell(client, scale):
    values = typed() | {"points-2-flow": "lots"}
    for button in (SHOW, {}):
        page = client.submit(address(scale), {**values, **button}, status=422)
        assert "not a number" in page.fault("points-2-flow")
        assert page.value("points-1-flow") == "60.1"


def test_a_flow_test_takes_the_points_and_its_certificate_s_words(client, db, scale):
    visit = factories.create_visit(db)
    db.commit()
    client.submit(address(scale), typed())
    page = client.page(f"/heads/{visit.tag}/test?range={scale.id}")
    assert page.value("bench-calibration_readings") == "20, 60, 100, 140, 180"
    assert page.value("bench-calibration_model") == "line"
    test = {
        "valve-head_diameter": "1.75 in", "valve-stem_diameter": "0.311 in",
        "valve-seat_angle": "45 deg", "valve-seat_width": "0.06 in",
        "valve-throat_diameter": "1.5 in", "port-area": "1.7 in2", "air-barometer": "29.5 inHg",
        "air-temperature": "70 degF", "uncertainty-resolution": "0.5 cfm",
        "uncertainty-head_diameter": "0.001 in", "uncertainty-port_area": "0.02 in2",
        "rows-0-lift": "0.1", "rows-0-first": "50", "rows-1-lift": "0.2", "rows-1-first": "99",
        "rows-2-lift": "0.3", "rows-2-first": "190", "save": "Save test",
    }  # fmt: skip
    bad = client.submit(page, {**test, "bench-calibration_flows": "19.6, 60.1, x"}, status=422)
    assert bad.fault("bench-calibration_flows")
    short = client.submit(page, {**test, "bench-calibration_flows": "19.6, 60.1"}, status=422)
    assert "2 values for 5 readings" in short.fault("bench-calibration_flows")
    page = client.submit(page, test)
    db.expire_all()
    (row,) = visit.sessions
    document = sessions.document(row)
    assert [str(number) for number in document.calibration_readings] == [
        "20",
        "60",
        "100",
        "140",
        "180",
    ]
    assert row.calibration is scale.calibrations[0]
    assert "above the highest point of the bench's calibration" in page.text
    assert "straight line through 5 points, 20 to 180 cfm, each ± 1 to 2 % (k = 2)" in page.text
    assert "1.75 in (u = 0.001 in)" in page.text
    assert "Calibration, fit of its points" in page.text
    working = client.page(f"/flow-tests/{row.id}/lifts/1")
    assert "true flows already, by the straight line through 5 points" in working.text
    again = client.page(f"/heads/{visit.tag}/test")
    assert again.value("uncertainty-port_area") == "0.02 in2"
    assert again.value("bench-calibration_flows") == "19.6, 60.1, 101, 142.2, 183"


def test_a_port_area_from_before_a_cut_leaves_with_its_uncertainty(client, db, by):
    visit = factories.create_visit(db)
    document = testfile.loads(
        INTAKE_US.replace("[uncertainty]", '[uncertainty]\nport_area = "0.02 in2"')
    )
    row = sessions.store(db, by, visit, document)
    db.commit()
    page = client.page(f"/heads/{visit.tag}/test")
    assert page.value("port-area")
    assert page.value("uncertainty-port_area") == "0.02 in2"
    row.port_area = None
    db.commit()
    page = client.page(f"/heads/{visit.tag}/test")
    assert page.value("port-area") == ""
    assert page.value("uncertainty-port_area") == ""


def test_a_range_by_a_factor_clears_the_points_of_the_test_before(client, db, scale):
    visit = factories.create_visit(db)
    other = factories.create_bench(db).ranges[0]
    db.commit()
    client.submit(address(scale), typed())
    page = client.page(f"/heads/{visit.tag}/test?range={other.id}")
    assert page.value("bench-calibration_readings") == ""


def test_a_leak_test_is_drawn_and_offered(client, db, scale):
    visit = factories.create_visit(db)
    db.commit()
    leakage = f"/benches/ranges/{scale.id}/leakage"
    values = {"expanded_uncertainty": "6 %"}
    pairs = (("10", "0.36"), ("20", "0.51"), ("28", "0.61"))
    for index, (pressure, leak) in enumerate(pairs):
        values |= {f"points-{index}-pressure": pressure, f"points-{index}-leakage": leak}
    bad = client.submit(leakage, {**values, "points-1-leakage": "-1"}, status=422)
    assert bad.fault("points-1-leakage")
    page = client.submit(leakage, {**values, **SHOW})
    assert "rises with the pressure to the power of 0.5" in page.text
    assert scale.leak_tests == []
    page = client.submit(page, {})
    match = re.search(r"Leakage (0\.6\d*) cfm, standard uncertainty (0\.01\d*) cfm", page.text)
    assert match
    assert float(match[1]) == pytest.approx(0.61, abs=0.01)
    page = client.page(f"/heads/{visit.tag}/test?range={scale.id}")
    assert page.value("bench-leakage_pressure") == "28 inH2O"
    assert "from the leak test of" in page.text
    assert "Leak test of" in client.page(leakage).text


def test_everyone_reads_a_calibration_and_the_workshop_records(signed_in, client, db, scale):
    client.submit(address(scale), typed())
    db.expire_all()
    (row,) = scale.calibrations
    for role, status in ((Role.READER, 403), (Role.MACHINIST, 200)):
        person = signed_in(role)
        person.page(f"/benches/calibrations/{row.id}")
        person.page(f"/benches/ranges/{scale.id}/leakage", status=status)
    client.page("/benches/calibrations/4711", status=404)
