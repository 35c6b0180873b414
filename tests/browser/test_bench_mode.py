"""Bench mode in a real browser: a test by taps and digits alone, readings in the first screen."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from shopflow.database import session_factory
from shopflow.models import BenchSession, Role
from shopflow.services.actor import Actor
from tests import factories
from tests.browser.actions import follow, profile, sign_in
from tests.browser.conftest import DESKTOP, TABLET, Served, serving
from tests.browser.fitness import assert_fit
from tests.cli.sessions import INTAKE_US

PHONE: ViewportSize = {"width": 390, "height": 844}
LIFTS = [f"{count * 0.05:.2f}" for count in range(1, 11)]
READINGS = ["23.5", "47.8", "74.1", "101.0", "121.5", "140.5", "151.2", "160.2", "164.0", "166.4"]
TEN_LIFTS = INTAKE_US.replace(
    "lift = [0.05, 0.1, 0.2, 0.3, 0.4, 0.45]\n"
    "flow = [[23.5, 23.9], [47.8], [101.0, 101.5, 100.8], [140.5, 141.0], [160.2], [164.0, 164.4]]",
    f"lift = [{', '.join(LIFTS)}]\nflow = [{', '.join(f'[{float(f) - 3}]' for f in READINGS)}]",
)


@pytest.fixture(scope="module")
def shop(
    tmp_path_factory: pytest.TempPathFactory, migrated_file: Path
) -> Iterator[tuple[Served, list[str]]]:
    """A shop with a calibrated bench, and heads that were tested an hour ago; their labels."""
    with serving(tmp_path_factory.mktemp("bench-mode"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            factories.create_bench(db)
            engine_type = factories.create_engine_type(db)
            now = f"measured_at = {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"
            tags = []
            for count in range(4):
                visit = factories.create_visit(db, engine_type=engine_type)
                before = TEN_LIFTS.replace("schema = 1", f'schema = 1\n{now}\nnotes = "{count}"')
                factories.create_session(db, visit, before, by=Actor.now(None))
                factories.create_operation(db, visit)
                tags.append(visit.tag)
        yield served, tags


def opened(chromium: Browser, served: Served, viewport: ViewportSize, **more: Any) -> Page:
    page = profile(chromium, served.address, viewport=viewport, **more).new_page()
    sign_in(page)
    return page


def choose(page: Page, tag: str, cylinder: str = "1") -> int:
    """Come to the form of a test from the list of heads, by tapping; the number of taps."""
    page.goto("/bench")
    follow(page.locator(f"a.tile[href='/bench/{tag}']"))
    follow(page.locator(f"a.tile[href*='side=intake&cylinder={cylinder}']"))
    follow(page.locator("a.tile", has_text="whole scale"))
    return 3


def stored(served: Served, tag: str) -> list[BenchSession]:
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        rows = db.query(BenchSession).order_by(BenchSession.id)
        matches = [row for row in rows if row.job_head.tag == tag]
        assert all(row.lifts[0].readings for row in matches)
        return matches


def test_ten_lifts_take_three_taps_and_twelve_enters(chromium, shop):
    served, (tag, *_) = shop
    page = opened(chromium, served, TABLET)
    taps, enters = choose(page, tag), 0
    for reading in READINGS:
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
        enters += 1
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    # The second column is left empty: on to the button, and save.
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == "save"
    page.keyboard.press("Enter")
    enters += 2
    page.wait_for_url(lambda url: "saved=" in url)
    assert (taps, enters) == (3, 12)
    row = stored(served, tag)[-1]
    assert (row.side, row.cylinder, row.bench_name[:5]) == ("intake", "1", "bench")
    expect(page.get_by_text("The test is saved.")).to_be_visible()
    page.context.close()


@pytest.mark.parametrize("viewport", [TABLET, PHONE, DESKTOP], ids=["820", "390", "1366"])
def test_the_first_reading_is_in_the_first_screen_with_the_cursor_in_it(chromium, shop, viewport):
    served, (_, tag, *_) = shop
    page = opened(chromium, served, viewport)
    choose(page, tag)
    cell = page.locator("[name='rows-0-first']")
    expect(cell).to_be_focused()
    box = cell.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < viewport["height"] / 2
    save = page.locator("#safe")
    page.mouse.wheel(0, 5000)
    expect(save).to_be_in_viewport()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.context.close()


@pytest.mark.slow
def test_the_keypad_types_for_gloves(chromium, shop):
    served, (_, tag, *_) = shop
    page = opened(chromium, served, TABLET, has_touch=True, is_mobile=True)
    choose(page, tag, "2")
    pad = page.get_by_role("group", name="Keypad")
    expect(pad).to_be_visible()
    for key in ("2", "3", "9", "Delete digit", ".", "5", "Next", "4", "7", "Next"):
        pad.get_by_role("button", name=key, exact=True).tap()
    expect(page.locator("[name='rows-0-first']")).to_have_value("23.5")
    expect(page.locator("[name='rows-1-first']")).to_have_value("47")
    expect(page.locator("[name='rows-2-first']")).to_be_focused()
    # A real keyboard types as ever, and the tablet's own stays away.
    page.keyboard.type("74.1")
    expect(page.locator("[name='rows-2-first']")).to_have_value("74.1")
    assert page.locator("[name='rows-2-first']").evaluate("cell => cell.inputMode") == "none"
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    # Left here, it is found again by whoever comes next.
    page.goto("/bench")
    expect(page.get_by_role("heading", name="Open tests")).to_be_visible()
    follow(page.locator("a.tile-open", has_text=tag))
    expect(page.locator("[name='rows-2-first']")).to_have_value("74.1")
    page.goto(f"/bench/{tag}")
    expect(page.get_by_role("link", name="Continue test")).to_be_visible()
    page.context.close()


def test_a_label_scanned_opens_the_choice_of_ports(chromium, shop):
    served, (_, _, tag, _) = shop
    page = opened(chromium, served, TABLET)
    page.goto("/bench")
    # A hand scanner types the address in the code, and Enter.
    page.keyboard.type(f"https://shop.example/heads/{tag}")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/bench/{tag}")
    page.goto(f"/heads/{tag}")
    assert page.url.endswith(f"/heads/{tag}")
    page.goto("/bench")
    follow(page.get_by_role("button", name="Open flow test"))
    page.goto(f"/heads/{tag}")
    assert page.url.endswith(f"/bench/{tag}")
    # From a page of ours the head's page still opens.
    follow(page.get_by_role("link", name="Head’s page"))
    assert page.url.endswith(f"/heads/{tag}")
    page.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("scheme", [{}, {"color_scheme": "dark"}, {"forced_colors": "active"}],
                         ids=["light", "dark", "forced"])  # fmt: skip
def test_every_screen_of_bench_mode_is_fit(chromium, shop, scheme, pictures):
    served, (*_, tag) = shop
    page = opened(chromium, served, TABLET, **scheme)
    for address in (
        "/bench", "/bench?label=nope", f"/bench/{tag}",
        f"/bench/{tag}/benches?side=intake&cylinder=3",
        f"/bench/{tag}/test?side=exhaust&cylinder=3", f"/bench/{tag}/test?side=intake&cylinder=3",
    ):  # fmt: skip
        page.goto(address)
        assert_fit(page)
    if page.locator("#keypad").is_hidden():
        page.locator("#keypad-switch").click()
    page.locator("[name='rows-0-first']").fill("20")
    expect(page.locator("#worked-out .mean")).to_be_visible()
    name = f"bench-mode-{next(iter(scheme), 'light')}.png"
    page.screenshot(path=pictures / name)
    assert_fit(page)
    page.locator("#set-up > summary").click()
    assert_fit(page)
    page.goto("/bench")
    page.goto(f"/bench/{tag}/test")
    page.locator("[name='rows-0-first']").fill("")
    expect(page.locator("#safe")).to_contain_text("Safe")
    page.context.close()


def test_without_script_the_form_is_plain(chromium, shop):
    served, (*_, tag) = shop
    page = opened(chromium, served, TABLET, java_script_enabled=False)
    choose(page, tag, "4")
    for row, reading in enumerate(READINGS):
        page.locator(f"[name='rows-{row}-first']").fill(reading)
    page.locator("[name='rows-0-first']").press("Enter")
    expect(page.locator("#worked-out figure")).to_be_visible()
    follow(page.locator("[name='save']"))
    assert "saved=" in page.url
    page.context.close()
