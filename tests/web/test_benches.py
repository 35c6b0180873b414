"""Benches, their ranges and calibrations."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopflow.models import Role
from shopflow.services.bench import benches, calibrations
from tests import factories

TODAY = datetime.now(UTC).date()


@pytest.fixture
def bench(db, by):
    """A bench read in percent, with one range."""
    new_bench = benches.create(db, by, {"name": "Old column", "reading": "percent of range"})
    benches.add_range(db, by, new_bench, {"name": "low", "full_scale": "70 L/s"})
    db.commit()
    return new_bench


def _calibration(**overrides):
    made_on = TODAY - timedelta(days=400)
    values = {"identifier": "C-1", "expanded_uncertainty": "1.2 %", "made_on": made_on}
    return {**values, **overrides}


def test_a_bench_a_range_and_a_calibration_are_added_in_turn(client, db):
    page = client.submit("/benches/new", {"name": "North", "reading": "percent of range"})
    (row,) = benches.list_all(db)
    page = client.submit(page.links["Add range"], {"name": "high range", "full_scale": "160 L/s"})
    assert "Never calibrated" in page.text
    page = client.submit(
        page.links["Record a calibration of range high range"],
        {"identifier": "N-1", "expanded_uncertainty": "1.2 %", "factor": "1.010"},
    )
    assert page.rows[0][0].startswith("N-1")
    assert str(row.ranges[0].calibrations[0].factor) == "1.010"


def test_an_overdue_calibration_is_called_so_on_list_and_page(client, db, by, bench):
    # In the zone of the shop it may still be the day before.
    due = TODAY - timedelta(days=2)
    calibrations.calibrate(db, by, bench.ranges[0], _calibration(due_on=due))
    assert "Overdue" in client.page("/benches").text
    assert "Overdue" in client.page(f"/benches/{bench.id}").text
    calibrations.calibrate(
        db, by, bench.ranges[0], _calibration(identifier="C-2", made_on=TODAY - timedelta(days=2))
    )
    assert "Overdue" not in client.page("/benches").text


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("identifier", "", "required: enter a value"),
        ("identifier", "i" * 61, "at most 60"),
        ("expanded_uncertainty", "1.2 mm", "unit of length"),
        ("expanded_uncertainty", "-1 %", "0 or more"),
        ("factor", "0", "more than 0"),
        ("factor", "nan", "a number"),
        ("made_on", "yesterday", "is not a date"),
        ("due_on", "2001-01-01", "before it was made"),
    ],
)
def test_a_calibration_that_cannot_be_is_refused_at_its_field(client, bench, field, typed, words):
    values = {"identifier": "C-9", "expanded_uncertainty": "1 %", "made_on": "2026-01-01"}
    address = f"/benches/ranges/{bench.ranges[0].id}/calibrate"
    page = client.submit(address, {**values, field: typed}, status=422)
    assert words in page.fault(field).lower()


def test_a_bench_read_in_percent_needs_its_full_scale(client, bench):
    page = client.submit(f"/benches/{bench.id}/ranges/new", {"name": "high"}, status=422)
    assert page.fault("full_scale")


def test_two_benches_do_not_share_a_name(client, bench):
    page = client.submit("/benches/new", {"name": "Old column"}, status=422)
    assert "already" in page.fault("name")


def test_a_bench_is_taken_out_of_use(client, db, bench):
    client.submit(f"/benches/{bench.id}/change", {"active": None})
    db.expire_all()
    assert not bench.active
    assert "not in use" in client.page("/benches").text


def test_two_editors_do_not_overwrite_each_other(client, db, by, bench):
    page = client.page(f"/benches/{bench.id}/change")
    benches.change(db, by, bench, {"notes": "new fan"})
    page = client.submit(page, {"notes": "old fan"}, status=422)
    assert "new fan" in page.text


def test_everyone_reads_and_the_workshop_adds(signed_in, bench):
    for role, status in ((Role.READER, 403), (Role.COUNTER, 403), (Role.MACHINIST, 200)):
        signed_in(role).page(f"/benches/{bench.id}")
        signed_in(role).page("/benches/new", status=status)


def test_a_test_starts_with_the_calibration_s_scale_air_and_the_shop_s_altitude(client, db):
    visit = factories.create_visit(db)
    bench = factories.create_bench(db)
    db.commit()
    page = client.submit("/shop", {"altitude": "5280 mm"}, status=422)
    assert "enter it in m or ft" in page.fault("altitude")
    assert "outside -500 to 9000 m" in client.submit(
        "/shop", {"altitude": "52800 ft"}, status=422
    ).fault("altitude")
    client.submit("/shop", {"altitude": "5280 ft"})
    calibration = {
        "identifier": "N-9", "expanded_uncertainty": "1 %", "made_on": "2026-01-05",
        "scale_density": "1.204 kg/m3",
    }  # fmt: skip
    page = client.submit(f"/benches/ranges/{bench.ranges[0].id}/calibrate", calibration)
    assert "scale for 1.204 kg/m³" in page.text
    page = client.page(f"/heads/{visit.tag}/test?range={bench.ranges[0].id}")
    assert page.value("air-altitude") == "5280 ft"
    assert page.value("bench-scale_density") == "1.204 kg/m3"
    assert page.value("bench-meter") == "restriction"


def test_a_range_s_record_is_typed_once_and_a_test_s_form_says_where_it_comes_from(client, db):
    visit = factories.create_visit(db)
    range_ = factories.create_bench(db).ranges[0]
    db.commit()
    address = f"/benches/ranges/{range_.id}/record"
    page = client.submit(address, {"division": "0.5 %", "gauge_accuracy": "0.5 mm"}, status=422)
    assert page.fault("gauge_accuracy")
    page = client.submit(address, {"division": "0.5 %", "gauge_accuracy": "0.5 %"}, status=422)
    assert page.fault("division")
    assert page.value("gauge_accuracy") == "0.5 %"
    values = {"division": "0.5 cfm", "gauge_mark": "G-2", "gauge_accuracy": "0.5 %"}
    page = client.submit(address, values)
    assert "New tests start with: Scale division 0.5 cfm" in page.text
    page = client.page(f"/heads/{visit.tag}/test?range={range_.id}")
    assert page.value("uncertainty-resolution") == "0.5 cfm"
    assert page.value("uncertainty-pressure") == "0.289 %"
    assert page.value("bench-gauge_id") == "G-2"
    assert "the ± 0.5 % on the certificate of gauge G-2, divided by √3" in page.text
