"""Fixtures in a real browser: a set-up by taps alone, and its pages at every width."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from shopflow.database import session_factory
from shopflow.models import BenchSession, Role
from tests import factories
from tests.browser.conftest import Served, serving
from tests.browser.fitness import assert_fit
from tests.browser.test_bench_mode import choose, opened
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.services.test_fixtures import BARE, DRESSED, on

WIDTHS = [320, 390, 820, 1366]


@pytest.fixture(scope="module")
def shop(
    tmp_path_factory: pytest.TempPathFactory, migrated_file: Path
) -> Iterator[tuple[Served, str, list[int]]]:
    """A shop with fixtures, a head to test, and two tests on unlike set-ups; label and keys."""
    with serving(tmp_path_factory.mktemp("fixtures"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            factories.create_bench(db)
            long = "S-101, the long one with the step at the bottom, for big bores"
            factories.create_fixture(db, kind="bore sleeve", name=long[:60], bore="101.6 mm")
            factories.create_fixture(db, kind="inlet plate", name="12 mm plate", radius="12 mm")
            visit = factories.create_visit(db)
            factories.create_operation(db, visit)
            tested = factories.create_visit(db)
            rows = [
                factories.create_session(db, tested, on(AFTER_US.replace("seat cut", "x"), **BARE)),
                factories.create_session(db, tested, on(INTAKE_US, **DRESSED)),
            ]
            keys, tag = [row.id for row in rows], visit.tag
        yield served, tag, keys


@pytest.mark.slow
def test_a_set_up_is_stated_by_tapping_and_stands_on_one_line(
    chromium: Browser, shop: tuple[Served, str, list[int]]
) -> None:
    served, tag, _ = shop
    page = opened(chromium, served, {"width": 820, "height": 1180}, has_touch=True)
    choose(page, tag)
    page.locator("#set-up > summary").tap()
    parts = page.locator(".fixtures")
    parts.get_by_role("group", name="Inlet").get_by_text("12 mm plate").tap()
    parts.get_by_role("group", name="Manifold").get_by_text("none").tap()
    parts.get_by_role("group", name="Spark plug").get_by_text("in", exact=True).tap()
    brief = page.locator("#set-up > summary")
    expect(brief).to_contain_text("inlet 12 mm plate, radius 12 mm")
    expect(brief).to_contain_text("manifold none")
    assert_fit(page)
    page.locator("#set-up > summary").tap()
    for name, text in {"valve-head_diameter": "1.732 in", "air-barometer": "29.4 inHg",
                       "air-temperature": "71 degF", "rows-0-first": "23.5"}.items():  # fmt: skip
        page.locator(f"[name='{name}']").fill(text)
    page.locator("[name='rows-0-first']").press("Enter")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    # The draft keeps what was tapped, over a reload.
    page.reload()
    expect(page.locator("#set-up > summary")).to_contain_text("inlet 12 mm plate, radius 12 mm")
    page.locator("[name='save']").click()
    page.wait_for_url(lambda url: "saved=" in url)
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        row = db.query(BenchSession).order_by(BenchSession.id.desc()).first()
        assert row is not None
        assert row.set_up_inlet == "12 mm plate, radius 12 mm"
        assert (row.set_up_manifold, row.set_up_spark_plug, row.set_up_header) == ("none", "in", "")
    page.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("width", WIDTHS)
def test_pages_of_fixtures_and_of_unlike_set_ups_fit(
    chromium: Browser, shop: tuple[Served, str, list[int]], width: int
) -> None:
    served, tag, keys = shop
    page = opened(chromium, served, {"width": width, "height": 900})
    addresses = (
        *("/fixtures", "/fixtures/new", f"/heads/{tag}/test", f"/bench/{tag}/test"),
        f"/compare?s={keys[0]}&s={keys[1]}",
    )
    for address in addresses:
        page.goto(address)
        for fold in page.locator("details.set-up:not([open]) > summary").all():
            fold.click()
        assert_fit(page)
    expect(page.get_by_text("The set-ups are unlike")).to_be_visible()
    expect(page.get_by_role("heading", name="What the manifold costs: M-2")).to_be_visible()
    page.context.close()
