"""Charts in a real browser: a point read by keyboard, pointer and tap; switching; the picker."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories
from tests.browser.actions import follow, profile, sign_in
from tests.browser.conftest import DESKTOP, SIZES, serving
from tests.browser.fitness import assert_fit
from tests.cli.sessions import AFTER_US, EXHAUST_SI

BOTH = "/compare?s=1&s=2"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory, migrated_file: Path) -> Iterator[str]:
    """Address of a shop with a head tested before and after, on both sides, and a second head."""
    with serving(tmp_path_factory.mktemp("shop"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            job = factories.create_job(db, head_count=2)
            factories.create_session(db, job.heads[0])
            factories.create_session(db, job.heads[0], AFTER_US)
            factories.create_session(db, job.heads[0], EXHAUST_SI)
            factories.create_session(db, job.heads[1])
        yield served.address


@pytest.fixture(params=SIZES, ids=["desktop", "tablet"])
def page(request: pytest.FixtureRequest, chromium: Browser, address: str) -> Iterator[Page]:
    """A tab of this size with fingers, the owner signed in; it must report no error."""
    context = profile(chromium, address, viewport=request.param, has_touch=True)
    tab = context.new_page()
    complaints: list[str] = []
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.on("console", lambda one: complaints.append(one.text) if one.type == "error" else None)
    sign_in(tab)
    yield tab
    context.close()
    assert not complaints


@pytest.mark.slow
def test_a_point_is_read_by_the_arrow_keys(page: Page) -> None:
    page.goto(BOTH)
    chart = page.get_by_role("application").first
    readout = page.locator("#chart-curves .readout")
    expect(readout).to_have_attribute("aria-live", "polite")
    chart.focus()
    page.keyboard.press("ArrowRight")
    expect(readout).to_contain_text("as received: ")
    expect(readout).to_contain_text("at 0.05 in")
    page.keyboard.press("ArrowRight")
    expect(readout).to_contain_text("at 0.1 in")
    page.keyboard.press("ArrowUp")
    expect(readout).to_contain_text("seat cut: ")
    page.keyboard.press("End")
    expect(readout).to_contain_text("at 0.45 in")
    page.keyboard.press("ArrowRight")
    expect(readout).to_contain_text("at 0.45 in")
    page.keyboard.press("Home")
    expect(readout).to_contain_text("at 0.06 in")
    assert page.locator("#chart-curves .point.read").count() == 1
    assert_fit(page)
    # Keys that are not the chart's go on to what comes next.
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_a_point_is_read_by_tap_and_by_pointer(page: Page) -> None:
    page.goto("/flow-tests/2")
    readout = page.locator("#chart-curves .readout")
    points = page.locator("#chart-curves .point")
    page.touchscreen.tap(*middle(points.nth(2)))
    expect(readout).to_have_text(points.nth(2).locator("title").text_content() or "")
    page.mouse.move(*middle(points.nth(4)))
    expect(readout).to_have_text(points.nth(4).locator("title").text_content() or "")


def test_a_point_of_a_scatter_leads_to_its_test(page: Page) -> None:
    page.goto("/engines/1")
    page.locator("#against > summary").click()
    scatter = page.locator("figure", has=page.locator("[data-link]")).last
    scatter.get_by_role("application").focus()
    page.keyboard.press("ArrowRight")
    expect(scatter.get_by_role("link", name="Open this test")).to_be_visible()
    assert_fit(page)
    page.keyboard.press("Enter")
    page.wait_for_url("**/flow-tests/*")


def middle(point: Locator) -> tuple[float, float]:
    """Position of a point's mark on the screen."""
    box = point.locator(".sign").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_what_is_drawn_is_switched_in_the_page(page: Page) -> None:
    page.goto(BOTH)
    page.evaluate("window.stayed = true")
    page.locator("#chart-curves summary").click()
    page.get_by_label("Show", exact=True).select_option("curtain")
    expect(page.locator("#chart-curves figcaption")).to_have_text(
        "Coefficient on the curtain area against lift"
    )
    expect(page.locator("#chart-curves details")).to_have_attribute("open", "")
    page.get_by_label("Plot against", exact=True).select_option("ld")
    expect(page.locator("#chart-curves figcaption")).to_contain_text("lift over valve diameter")
    assert page.evaluate("window.stayed") is True
    assert page.url.endswith("plot=curtain&against=ld")
    # The new drawing can be read as the old one could, and links keep what is drawn.
    page.get_by_role("application").first.focus()
    page.keyboard.press("End")
    page.keyboard.press("End")
    expect(page.locator("#chart-curves .readout")).to_contain_text("at L/D 0.260")
    follow(page.get_by_role("link", name="Compare ports"))
    expect(page.get_by_label("Show", exact=True)).to_have_value("curtain")
    assert_fit(page)


def test_without_javascript_a_button_switches(chromium: Browser, address: str) -> None:
    context = profile(chromium, address, viewport=DESKTOP, java_script_enabled=False)
    tab = context.new_page()
    sign_in(tab)
    tab.goto(BOTH)
    tab.get_by_label("Show", exact=True).select_option("velocity")
    follow(tab.get_by_role("button", name="Show"))
    expect(tab.locator("#chart-curves figcaption")).to_have_text(
        "Velocity in the port against lift"
    )
    title = tab.locator("#chart-curves .point title").first.text_content() or ""
    assert "ft/s" in title
    context.close()


@pytest.mark.slow
def test_tests_are_picked_from_a_head_and_by_search(page: Page) -> None:
    page.goto("/heads/1")
    follow(page.get_by_role("link", name="to comparison").first)
    follow(page.get_by_role("link", name="Remove exhaust: as received"))
    expect(page.locator("#picked li")).to_have_count(1)
    page.get_by_role("searchbox", name="Search heads").fill("HC 4417")
    follow(page.get_by_role("main").get_by_role("button", name="Search"))
    follow(page.locator(".offer").last.get_by_role("link", name="Add").first)
    expect(page.locator("#picked li")).to_have_count(2)
    expect(page.locator("#compared .chart-box")).to_have_count(2)
    assert_fit(page)


@pytest.mark.parametrize(
    "path",
    [
        "/compare",
        "/compare?q=zzzq",
        "/compare?s=1",
        "/compare?s=1&s=2&mode=heads",
        "/compare?s=1&s=2&s=3&s=4&mode=ports&plot=gain",
        "/compare?s=1&s=4&mode=heads",
        "/compare?s=2&s=3&mode=ratio&against=ld",
        "/flow-tests/1?plot=energy",
    ],
)
def test_every_state_is_fit_for_eyes_gloves_and_screen_readers(page: Page, path: str) -> None:
    page.goto(path)
    assert_fit(page)


@pytest.mark.parametrize("width", [320, 390])
def test_on_a_phone_letters_are_no_smaller_than_twelve_pixels(page: Page, width: int) -> None:
    """Another drawing is shown there, laid out for its width and read likewise."""
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(BOTH)
    letters = page.locator(".chart:visible text")
    heights = letters.evaluate_all(
        "texts => texts.map(text => parseFloat(text.getAttribute('font-size')) *"
        " text.ownerSVGElement.getBoundingClientRect().width"
        " / text.ownerSVGElement.viewBox.baseVal.width)"
    )
    assert min(heights) >= 12.0
    assert letters.filter(has_text="as received").first.is_visible()
    page.get_by_role("application").first.focus()
    page.keyboard.press("End")
    expect(page.locator("#chart-curves .readout")).to_contain_text("at 0.")
    assert page.locator("#chart-curves .chart.narrow .point.read").count() == 1
    assert_fit(page)


def test_on_a_phone_a_caption_is_read_without_scrolling_its_table(page: Page) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(BOTH)
    ends = page.locator("caption:visible").evaluate_all(
        "captions => captions.map(caption => caption.getBoundingClientRect().right)"
    )
    assert ends
    assert max(ends) <= 390.0
