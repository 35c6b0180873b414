"""The table of a calibration's points in a real browser: typed by keyboard, its fit seen, saved."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import DESKTOP, TABLET, Served, serving
from tests.browser.fitness import assert_fit

PHONE: ViewportSize = {"width": 390, "height": 844}
READINGS = ["20", "60", "100", "140", "180"]
FLOWS = ["19.6", "60.1", "101", "142.2", "183"]
BENT = ["19.6", "63", "106", "142.2", "176"]
PERCENTS = ["2", "1", "1", "1", "1"]


@pytest.fixture
def shop(tmp_path: Path, migrated_file: Path) -> Iterator[tuple[Served, int, str]]:
    """A shop with a bench and a head in it: the server, the key of a range, the head's tag."""
    with serving(tmp_path / "shop", migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            scale = factories.create_bench(db).ranges[0]
            tag = factories.create_visit(db).tag
            db.flush()
            key = scale.id
        yield served, key, tag


def signed_in(chromium: Browser, address: str) -> Page:
    page = profile(chromium, address, viewport=DESKTOP).new_page()
    sign_in(page)
    return page


def type_columns(page: Page, *columns: list[str]) -> None:
    """Down each column with Enter alone; on an empty row it leads to the top of the next."""
    page.locator("table.readings input").first.focus()
    for index, column in enumerate(columns):
        for text in column:
            page.keyboard.press("ControlOrMeta+A")
            page.keyboard.type(text)
            page.keyboard.press("Enter")
        if index == 0:
            page.keyboard.press("Enter")


def look(page: Page, name: str) -> None:
    """Fit at every width, on a phone but for its tables, which scroll; pictures where asked for."""
    folder = os.environ.get("SHOPFLOW_SCREENSHOTS")
    for size in (DESKTOP, TABLET, PHONE):
        page.set_viewport_size(size)
        if folder:
            picture = Path(folder) / f"{name}-{size['width']}.png"
            page.screenshot(path=picture, full_page=True)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
        if size != PHONE:
            assert_fit(page)
    page.set_viewport_size(DESKTOP)


@pytest.mark.slow
def test_points_are_typed_without_a_mouse_and_their_fit_is_seen(chromium, shop):
    served, key, tag = shop
    page = signed_in(chromium, served.address)
    page.goto(f"/benches/ranges/{key}/calibrate")
    page.locator("[name='identifier']").fill("N-1")
    page.get_by_label("Calibrated by").select_option("line")
    page.get_by_text("Points", exact=True).click()
    type_columns(page, READINGS, [*BENT], PERCENTS)
    follow(page.get_by_role("button", name="Show fit"))
    expect(page.locator("#fit [role=alert]")).to_contain_text("A poor fit")
    assert page.locator("#fit .chart-box").count() == 1
    look(page, "points-poor")
    type_columns(page, READINGS, FLOWS)
    follow(page.get_by_role("button", name="Show fit"))
    expect(page.locator("#fit")).to_contain_text("straight line through 5 points")
    expect(page.locator("#fit [role=alert]")).to_have_count(0)
    look(page, "points-fit")
    press(page, "Save calibration")
    expect(page.get_by_role("cell", name="5 points")).to_be_visible()
    look(page, "points-bench")
    press(page, "N-1")
    expect(page.get_by_role("heading", name="Calibration N-1")).to_be_visible()
    look(page, "points-calibration")
    page.goto(f"/heads/{tag}/test?range={key}")
    expect(page.locator("[name='bench-calibration_flows']")).to_have_value(", ".join(FLOWS))
    look(page, "points-test")
    page.context.close()


@pytest.mark.slow
def test_a_leak_test_is_typed_and_drawn(chromium, shop):
    served, key, _ = shop
    page = signed_in(chromium, served.address)
    page.goto(f"/benches/ranges/{key}/leakage")
    page.get_by_label("Uncertainty of each leakage").fill("6 %")
    type_columns(page, ["10", "20", "28"], ["0.36", "0.51", "0.61"])
    follow(page.get_by_role("button", name="Show fit"))
    expect(page.get_by_text("rises with the pressure to the power of 0.5")).to_be_visible()
    look(page, "leakage")
    press(page, "Save leak test")
    expect(page.get_by_text("Leakage 0.6")).to_be_visible()
    page.context.close()
