"""The measurement sheet in a real browser: by keyboard, by touch, and nothing typed is lost."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, Route, expect
from sqlalchemy import select

from shopflow.database import session_factory
from shopflow.models import Measurement, Role, Visit
from shopflow.services.measuring import limits, measurements
from tests import factories
from tests.browser.actions import follow, profile, sign_in
from tests.browser.conftest import TABLET, Served, serving
from tests.browser.fitness import assert_fit

HEIGHTS = [f"1.8{count:02d}" for count in range(16)]
COLUMN = "/heads/{}/sheet?kind=installed+height&taken=after"


@pytest.fixture
def shop(tmp_path: Path, migrated_file: Path) -> Iterator[tuple[Served, str]]:
    """A shop with a four-valve head in it, its heights held between limits; the head's tag."""
    with serving(tmp_path / "shop", migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            visit = factories.create_planned_visit(db)
            kind = measurements.kind_by_code(db, "installed height")
            limit = {"lower": "1.800 in", "upper": "1.810 in"}
            limits.set_(db, factories.BY, visit.head.engine_type, kind, "", limit)
            tag = visit.tag
        yield served, tag


@pytest.fixture
def saved(shop) -> Callable[[], list[str]]:
    """A reader of what is on record of the head."""
    served, tag = shop

    def read() -> list[str]:
        with session_factory(served.app.extensions["shopflow.engine"])() as db:
            query = select(Measurement).join(Measurement.job_head).where(Visit.tag == tag)
            return [row.value.text for row in db.scalars(query.order_by(Measurement.id))]

    return read


def opened(chromium: Browser, served: Served, tag: str, **more: object) -> Page:
    page = profile(chromium, served.address, **more).new_page()
    sign_in(page)
    page.goto(COLUMN.format(tag))
    return page


def cells(page: Page) -> Locator:
    return page.locator("input.cell-input")


@pytest.mark.slow
def test_sixteen_heights_take_less_than_a_minute_by_keyboard(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag)
    cells(page).first.focus()
    began = time.monotonic()
    for height in HEIGHTS:
        # As fast as a hand on a number pad: five keys and Enter, a tenth of a second each.
        page.keyboard.type(height, delay=100)
        page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert time.monotonic() - began < 60
    assert saved() == [f"{height} in" for height in HEIGHTS]
    states = page.locator("td.entry").evaluate_all("all => all.map(one => one.dataset.state)")
    assert states == ["in"] * 11 + ["out"] * 5
    expect(page.locator("#head-map-desc")).to_contain_text("0 missing, 11 within limits, 5 outside")
    page.reload()
    assert cells(page).evaluate_all("all => all.map(one => one.value)") == HEIGHTS
    assert_fit(page)


@pytest.mark.slow
def test_what_is_wrong_is_told_at_its_cell_and_stays_over_a_reload(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag)
    first, second = cells(page).nth(0), cells(page).nth(1)
    first.fill("thick")
    first.press("Enter")
    expect(page.locator("td.cell-faulty .fault")).to_contain_text("not a number and a unit")
    second.fill("1.805")
    second.press("Enter")
    expect(page.locator("#safe")).to_have_text("Not saved: 1 value. Correct the cells marked.")
    assert saved() == ["1.805 in"]
    page.reload()
    expect(first).to_have_value("thick")
    expect(page.locator("td.cell-faulty .fault")).to_contain_text("not a number and a unit")
    first.fill("1.806")
    first.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved() == ["1.805 in", "1.806 in"]


@pytest.mark.slow
def test_half_a_number_is_neither_sent_nor_called_saved(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag)
    rows: list[Route] = []
    page.route("**/cells?*", lambda route: rows.append(route))
    cells(page).first.focus()
    page.keyboard.type("1.800")
    with page.expect_request("**/cells?*"):
        page.keyboard.press("Enter")
    page.keyboard.type("1.")
    expect(page.locator("#safe")).to_contain_text("Saving 1 value. The value you are typing")
    rows.pop().continue_()
    expect(page.locator("#safe")).to_have_text(
        "The value you are typing is saved as you leave its cell."
    )
    assert (saved(), rows) == (["1.800 in"], [])
    page.unroute("**/cells?*")
    page.keyboard.type("801")
    page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved() == ["1.800 in", "1.801 in"]


def test_what_is_typed_without_a_network_is_saved_once_it_is_back(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag)
    page.context.set_offline(True)
    cells(page).first.fill("1.805")
    cells(page).first.press("Enter")
    expect(page.locator("#safe")).to_contain_text("no connection")
    page.context.set_offline(False)
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved() == ["1.805 in"]


@pytest.mark.slow
def test_two_who_fill_one_sheet_are_told_of_each_other(chromium, shop, saved):
    served, tag = shop
    item, other = opened(chromium, served, tag), opened(chromium, served, tag)
    cells(item).first.fill("1.801")
    cells(item).first.press("Enter")
    expect(item.locator("#safe")).to_contain_text("Saved: everything entered")
    cells(other).first.fill("1.802")
    cells(other).first.press("Enter")
    expect(other.locator("td.cell-faulty .fault")).to_contain_text("entered 1.801 meanwhile")
    cells(other).first.fill("1.8020")
    cells(other).first.press("Enter")
    expect(other.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved() == ["1.8020 in"]


@pytest.mark.slow
def test_sixteen_heights_are_entered_by_touch_on_the_tablets_number_pad(chromium, shop, saved):
    """The first cell is tapped; then the pad's digits and its Next key, which is Enter."""
    served, tag = shop
    page = opened(chromium, served, tag, viewport=TABLET, has_touch=True)
    asked = cells(page).evaluate_all("all => all.map(one => [one.inputMode, one.enterKeyHint])")
    assert asked == [["decimal", "next"]] * len(HEIGHTS)
    heights = cells(page).evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
    assert min(heights) >= 48
    cells(page).first.tap()
    began = time.monotonic()
    for height in HEIGHTS:
        page.keyboard.type(height, delay=100)
        page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert time.monotonic() - began < 60
    assert saved() == [f"{height} in" for height in HEIGHTS]
    # Any cell is reached by a tap as well, without the pad's key.
    cells(page).nth(3).tap()
    page.keyboard.press("Control+a")
    page.keyboard.type("1.809")
    cells(page).nth(9).tap()
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved()[3] == "1.809 in"
    assert_fit(page)


@pytest.mark.slow
def test_a_condition_is_chosen_by_its_first_letter_and_saved_as_it_is_left(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag)
    page.goto(f"/heads/{tag}/sheet?kind=plug+thread&taken=after")
    choices = page.locator("select.cell-input")
    choices.first.focus()
    for letter in ("g", "r", "d", "g"):
        page.keyboard.press(letter)
        page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    assert saved() == ["good", "repaired", "damaged", "good"]
    states = page.locator("td.entry").evaluate_all("all => all.map(one => one.dataset.state)")
    assert states == ["in", "in", "out", "in"]
    assert_fit(page)


@pytest.mark.slow
def test_a_tablet_has_keys_large_enough_and_needs_no_script(chromium, shop, saved):
    served, tag = shop
    page = opened(chromium, served, tag, viewport=TABLET, has_touch=True, java_script_enabled=False)
    box = cells(page).first.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    cells(page).first.tap()
    page.keyboard.type("1.805")
    follow(page.get_by_role("button", name="Save sheet"))
    assert saved() == ["1.805 in"]
    expect(cells(page).first).to_have_value("1.805")
