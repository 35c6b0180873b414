"""The engine's section of a head's cam page, its ranges, and what customers report."""

from __future__ import annotations

import re

import pytest

from shopflow.models import Fuel
from shopflow.services.engine import engine_results, ranges
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.units import from_si
from tests import factories
from tests.factories import BY
from tests.optional import present
from tests.services.test_engine_results import DYNAMOMETER, ends_of, later, saved
from tests.services.test_through_cam import CUT, SURE
from tests.unit.camfile.documents import CAM

INTERVAL = re.compile(r"[\d.]+ to [\d.]+")


@pytest.fixture
def visit(db):
    visit = factories.create_visit(db)
    visit.job.fuel = "gasoline"
    for text in (SURE, CUT):
        factories.create_session(db, visit, text)
    factories.create_cam(db, visit.job)
    return visit


def rows_of(page):
    return {row[0]: row[1:] for row in page.rows}


def test_the_page_shows_demand_air_and_power_as_intervals(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/cam")
    rows = rows_of(page)
    for name in (
        "Mean inlet Mach index", "Speed where filling falls", "Greatest Mach demand",
        "Stroke at a choked demand", "Time-area of the intake stroke",
        "Air, all cylinders", "Power potential",
    ):  # fmt: skip
        assert INTERVAL.match(rows[name][0]), name
    assert "Mean piston speed" in rows
    assert rows["Volumetric efficiency"] == ["80 % to 100 %"]
    assert "Not a promise" in page.text
    assert "Mach demand over the intake stroke" in page.text
    assert page.text.count("About this number") == 2


def test_without_an_intake_test_there_is_no_engine(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/cam?intake=")
    assert "Power potential" not in page.text


def test_without_fuel_and_rod_the_page_says_what_to_enter(client, db, visit):
    visit.job.fuel = visit.head.engine_type.fuel = ""
    bare = factories.create_cam(db, visit.job, CAM.replace("rod_length", "# rod_length"))
    intake = next(row for row in visit.sessions if row.side == "intake")
    page = client.page(f"/heads/{visit.tag}/cam?cam={bare.id}&intake={intake.id}")
    assert "No demand by crank angle: enter the rod length" in page.text
    assert "No power: enter the fuel on the job" in page.text
    assert "Power potential" not in page.text
    assert "Air, all cylinders" in page.text


def test_a_forecast_is_saved_and_a_result_set_against_it(client, db, visit):
    address = f"/heads/{visit.tag}/cam"
    page = client.press(address, "Save forecast")
    assert "It stays as it is" in page.text
    page = client.page(page.links["Engine results"])
    page = client.page(page.links["Add result"])
    page = client.submit(page, {"power": "200 hp", "power_at": "crankshaft", "kind": "dynamometer"})
    assert "200 hp at the crankshaft" in page.text
    assert "the forecast of" in page.text
    page = client.page(page.links["Change"])
    page = client.submit(page, {"notes": "Pulled well"})
    (row,) = engine_results.of_job(db, visit.job)
    assert row.notes == "Pulled well"
    page = client.press(f"/engine-results/{row.id}/change", "Discard result")
    assert "No results yet" in page.text


def test_a_slip_in_a_result_keeps_what_was_typed(client, db, visit):
    page = client.page(f"/jobs/{visit.job.number}/engine-results/new")
    page = client.submit(
        page, {"power": "a lot", "kind": "track", "source": "time slip"}, status=422
    )
    assert page.fault("power")
    assert page.value("source") == "time slip"


def test_the_shop_sets_its_ranges_and_a_job_its_own(client, db, visit):
    page = client.page("/shop")
    page = client.page(page.links["Air and power ranges"])
    assert "From five on" in page.text
    page = client.page(page.links["Gasoline, natural"])
    page = client.submit(page, {"filling_low": "88 %", "source": "eleven runs"})
    assert "The ranges are saved" in page.text
    page = client.page(f"/jobs/{visit.job.number}/engine-ranges")
    assert page.value("filling_low") == "88 %"
    page = client.submit(page, {"filling_low": "90 %"})
    rows = rows_of(client.page(f"/heads/{visit.tag}/cam"))
    assert rows["Volumetric efficiency"] == ["90 % to 100 %"]
    client.press(f"/jobs/{visit.job.number}/engine-ranges", "Use shop’s ranges")
    client.press("/shop/engine-ranges/gasoline/natural", "Use shipped ranges")
    rows = rows_of(client.page(f"/heads/{visit.tag}/cam"))
    assert rows["Volumetric efficiency"] == ["80 % to 100 %"]
    client.page("/shop/engine-ranges/gasoline/sideways", status=404)


def test_from_five_results_on_the_shop_is_told_how_its_forecasts_did(client, db, visit):
    row = saved(db, visit)
    for number in range(6):
        power = f"{1.02 * present(row.power_median):.0f} W"
        engine_results.add(db, later(BY, number), visit.job, DYNAMOMETER | {"power": power})
    page = client.page("/shop/engine-ranges")
    assert "6 of 6 reported results inside their forecasts" in page.text
    assert "1.02 in the median" in page.text
    assert "the ranges are too low" in page.text
    report = client.page("/reports/engines?from=2026-01-01&to=2026-12-31")
    assert "6 of 6" in report.text
    drawn = rows_of(report)["6"]
    unit = unit_system(get_shop(db)).unit("engine power")
    low, high = (from_si(present(end), unit) for end in (row.power_low, row.power_high))
    assert float(drawn[0].split()[0]) == pytest.approx((low + high) / 2.0, abs=0.6)
    assert float(drawn[1]) == pytest.approx(from_si(1.02 * present(row.power_median), unit), abs=1)


def test_a_held_range_is_offered_as_typed(client, db, visit):
    held = ranges.of_shop(db, Fuel.GASOLINE, visit.job.induction)
    ranges.save(db, BY, held, ends_of(held, consumption_low="280 g/kWh"))
    assert (
        client.page("/shop/engine-ranges/gasoline/natural").value("consumption_low") == "280 g/kWh"
    )
