"""A bench's day in a real browser, at every width, and a test that starts with its checks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories
from tests.browser.conftest import Served, serving
from tests.browser.fitness import assert_fit
from tests.browser.test_bench_mode import opened


@pytest.fixture(scope="module")
def shop(
    tmp_path_factory: pytest.TempPathFactory, migrated_file: Path
) -> Iterator[tuple[Served, int, int]]:
    """A shop with a bench: its key and its range's."""
    with serving(tmp_path_factory.mktemp("bench-days"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            bench = factories.create_bench(db)
            keys = bench.id, bench.ranges[0].id
        yield served, *keys


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 390, 820, 1366])
def test_the_day_fits_and_is_gone_through_by_its_buttons(
    chromium: Browser, shop: tuple[Served, int, int], width: int
) -> None:
    served, bench, scale = shop
    page = opened(chromium, served, {"width": width, "height": 900})
    for address in (
        *(f"/benches/{bench}", f"/benches/{bench}/day", f"/benches/{bench}/days/2026-01-05"),
        *(f"/benches/ranges/{scale}/leak-check", f"/benches/ranges/{scale}/exchange"),
    ):
        page.goto(address)
        assert_fit(page)
    page.goto(f"/benches/{bench}/day")
    if page.get_by_role("button", name="Record warm-up").is_visible():
        page.get_by_role("button", name="Record warm-up").click()
    expect(page.get_by_text("20 min")).to_be_visible()
    page.get_by_role("link", name="Record leak check").click()
    page.get_by_label("Test pressure").fill("28")
    page.get_by_label("Bench reading").fill("0.6 cfm")
    page.get_by_role("button", name="Save leak check").click()
    expect(page.get_by_text("0.6 cfm at 28")).to_be_visible()
    page.get_by_role("link", name="Check against a plate").click()
    page.get_by_label("Plate").fill("plate 2")
    page.get_by_label("Known flow").fill("100")
    page.get_by_label("Bench reading").fill("99.6 cfm")
    page.get_by_role("button", name="Save check").click()
    expect(page.get_by_text("Every check of the day is done.")).to_be_visible()
    assert_fit(page)
    page.context.close()
