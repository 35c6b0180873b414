"""A bench's day in the browser: the list, its checks, the reminder, and plates exchanged."""

from __future__ import annotations

import pytest

from shopflow.services.bench import bench_checks
from tests.factories import BY, create_bench, create_visit

PLATE = {"plate": "plate 2", "expected": "100.0 cfm", "indicated": "99.6 cfm"}
EXCHANGE = {
    "plate": "plate 2", "other_shop": "Tarn Heads", "measured_on": "2026-02-20",
    "pressure": "28 inH2O", "own_flow": "212.4 cfm", "own_uncertainty": "1.2 %",
    "their_flow": "210.0 cfm", "their_uncertainty": "1.0 %",
}  # fmt: skip


@pytest.fixture
def bench(db):
    return create_bench(db)


def test_the_day_is_gone_through_step_by_step_until_nothing_reminds(client, bench):
    page = client.page(f"/benches/{bench.id}")
    assert "Not done today: warm-up, leak check of range whole scale" in page.text
    page = client.page(f"/benches/{bench.id}/day")
    assert "Go down the list" in page.text
    page = client.submit(page, {"minutes": "0"}, action=f"/benches/{bench.id}/day/warm-up",
                         status=422)  # fmt: skip
    assert page.fault("minutes")
    page = client.submit(page, {"minutes": "25"}, action=f"/benches/{bench.id}/day/warm-up")
    assert "25 min" in page.text
    (scale,) = bench.ranges
    address = f"/benches/ranges/{scale.id}/leak-check"
    page = client.submit(address, {"pressure": "28 inH2O", "leakage": "much"}, status=422)
    assert page.fault("leakage")
    assert page.value("leakage") == "much"
    page = client.submit(page, {"leakage": "0.6 cfm"})
    assert "0.6 cfm at 28 inH\u2082O" in page.text
    page = client.submit(f"/benches/ranges/{scale.id}/check?then=day", PLATE)
    assert page.path == f"/benches/{bench.id}/day"
    assert "Every check of the day is done." in page.text
    page = client.page(f"/benches/{bench.id}")
    assert "Not done today" not in page.text
    assert "from the leak check of the day" in page.text


def test_a_past_day_shows_what_was_done_and_takes_nothing(client, bench):
    page = client.page(f"/benches/{bench.id}/days/2026-01-05")
    assert "Some checks were not made that day." in page.text
    assert "Record warm-up" not in page.text
    client.page(f"/benches/{bench.id}/days/2026-13-05", status=404)


def test_bench_mode_marks_a_range_that_was_not_checked_today(client, db, bench):
    visit = create_visit(db)
    page = client.page(f"/bench/{visit.tag}/benches?side=intake&cylinder=1")
    assert "not checked today" in page.text
    page = client.submit("/shop", {"bench_day_reminder": None})
    page = client.page(f"/bench/{visit.tag}/benches?side=intake&cylinder=1")
    assert "not checked today" not in page.text
    assert "Not done today" not in client.page(f"/benches/{bench.id}").text


def test_a_test_starts_with_what_was_checked_today(client, db, bench):
    (scale,) = bench.ranges
    client.submit(
        f"/benches/ranges/{scale.id}/leak-check", {"pressure": "28 inH2O", "leakage": "0.6 cfm"}
    )
    for reading in ("99.6 cfm", "100.4 cfm", "100.0 cfm"):
        client.submit(f"/benches/ranges/{scale.id}/check", {**PLATE, "indicated": reading})
    assert len(bench_checks.drifts(scale)) == 1
    page = client.page(f"/heads/{create_visit(db).tag}/test?range={scale.id}")
    assert page.value("bench-leakage") == "0.6 cfm"
    assert page.value("uncertainty-day") == "0.4 %"
    assert BY


def test_an_exchanged_plate_stands_on_the_bench_with_its_en_number(client, bench):
    (scale,) = bench.ranges
    address = f"/benches/ranges/{scale.id}/exchange"
    page = client.submit(address, {**EXCHANGE, "own_uncertainty": ""}, status=422)
    assert page.fault("own_uncertainty")
    assert page.value("other_shop") == "Tarn Heads"
    page = client.submit(page, {"own_uncertainty": "1.2 %"})
    assert "En +0.73, satisfactory" in page.text
    (row,) = [row for row in page.rows if "Tarn Heads" in " ".join(row)]
    assert "+0.73" in row
