"""Every page in a real browser: axe finds nothing, nothing scrolls sideways, targets are large."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories
from tests.browser.conftest import DESKTOP, TABLET, serving

ADDRESSES = (
    "/",
    "/?by=where",
    "/?move=customer",
    "/customers",
    "/customers?q=zzz",
    "/customers/1",
    "/customers/1/change",
    "/customers/new",
    "/engines",
    "/engines/1",
    "/engines/1?over=L/D&stage=as+received",
    "/engines/1?purpose=marine",
    "/engines/1?least_valve=44",
    "/engines/1/change",
    "/engines/new",
    "/export",
    "/heads/1",
    "/heads/1/change",
    "/import",
    "/import/customers",
    "/import/results",
    "/jobs/2026-0001/money",
    "/jobs/2026-0001/money/payments/new",
    "/jobs/2026-0001/quote",
    "/jobs/2026-0001/tags",
    "/look-up",
    "/look-up?q=Hollin",
    "/me",
    "/nope",
    "/people",
    "/people/1",
    "/people/new",
    "/search",
    "/search?q=Hollin",
    "/shop",
    "/tokens",
    "/tokens/new",
    "/shop/house-style",
)
SMALL_TARGETS = """() =>
  [...document.querySelectorAll("button, input, select, textarea, summary, .bar a, .choices a")]
    .filter((item) => item.type !== "hidden" && item.type !== "checkbox" && item.offsetParent)
    .filter((item) => item.getBoundingClientRect().height < 43.9)
    .map((item) => item.outerHTML.slice(0, 100))"""
"""Whatever is pressed or typed in and is under 44 px high; ticks have their label beside them."""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory, migrated_file: Path) -> Iterator[str]:
    """Address of a shop with some work in it."""
    with serving(tmp_path_factory.mktemp("shop"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            fill(db)
        yield served.address


def fill(db) -> None:
    """Two customers with long and short names, late and dated and undated jobs, and tests."""
    factories.create_shop(db)
    factories.create_person(db, Role.OWNER)
    long = "Bracken & Daughters Marine Restoration Cooperative of Upper Tarn"
    customers = [factories.create_customer(db, name=name) for name in (long, "Orla Finch")]
    engine_type = factories.create_engine_type(db, aliases="the eighteen, K18 turbo")
    today = datetime.now(UTC).date()
    for count, days in enumerate((-3, 0, 1, 20)):
        promised_on = (today + timedelta(days=days)).isoformat()
        customer = customers[count % 2]
        job = factories.create_job(db, customer, engine_type, promised_on=promised_on, head_count=2)
        factories.create_session(db, job.heads[0])
    factories.create_job(db, customers[1])


@pytest.fixture(scope="module", params=[DESKTOP, TABLET], ids=["desktop", "tablet"])
def page(request: pytest.FixtureRequest, chromium: Browser, address: str) -> Iterator[Page]:
    """A tab of this size, the owner signed in."""
    context = chromium.new_context(base_url=address, viewport=request.param, locale="en-US")
    tab = context.new_page()
    tab.goto("/sign-in")
    assert_fit(tab)
    tab.get_by_label("Login").fill("owner")
    tab.get_by_label("Password").fill(factories.PASSWORD)
    tab.get_by_role("button", name="Sign in").click()
    tab.wait_for_url("**/")
    yield tab
    context.close()


def assert_fit(page: Page) -> None:
    """The page is fit for eyes, gloves and screen readers."""
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.evaluate(SMALL_TARGETS) == []
    violations = Axe().run(page).response["violations"]
    assert not violations, [
        (one["id"], [node["html"] for node in one["nodes"]]) for one in violations
    ]


@pytest.mark.parametrize("path", ADDRESSES)
def test_a_page_is_fit_for_eyes_gloves_and_screen_readers(page, path):
    page.goto(path)
    assert_fit(page)


def test_a_form_with_faults_is_fit_too(page):
    page.goto("/engines/new")
    page.get_by_label("Bore").fill("81")
    page.get_by_role("button", name="Save").click()
    assert page.get_by_role("alert").inner_text().startswith("Not saved yet.")
    assert page.get_by_label("Bore").input_value() == "81"
    assert_fit(page)


def test_the_menu_opens_and_shuts_by_keyboard(page):
    page.goto("/")
    summary = page.locator("summary")
    summary.focus()
    page.keyboard.press("Enter")
    assert page.get_by_role("link", name="My account").is_visible()
    assert_fit(page)
    page.keyboard.press("Escape")
    assert not page.get_by_role("link", name="My account").is_visible()
    assert summary.evaluate("item => item === document.activeElement")


def test_the_slash_key_leads_to_the_search_box_but_can_be_typed_in_a_field(page):
    page.goto("/customers")
    page.keyboard.press("/")
    page.keyboard.type("finch")
    page.keyboard.press("Enter")
    page.wait_for_url("**/search?q=finch")
    page.goto("/customers/new")
    page.get_by_label("Name").fill("")
    page.get_by_label("Name").press_sequentially("A/B")
    assert page.get_by_label("Name").input_value() == "A/B"


def test_the_first_stop_of_the_tab_key_skips_to_the_page(page):
    page.goto("/customers")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_what_was_typed_is_still_there_on_going_back(page):
    page.goto("/customers/new")
    page.get_by_label("Name").fill("Half typed")
    page.goto("/customers")
    page.go_back()
    assert page.get_by_label("Name").input_value() == "Half typed"


def test_the_typeface_comes_from_here(page):
    page.goto("/")
    page.evaluate("document.fonts.ready")
    loaded = page.evaluate("[...document.fonts].filter(f => f.status === 'loaded').length")
    assert loaded >= 2
