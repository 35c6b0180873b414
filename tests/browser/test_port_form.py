"""The form of a port in a real browser: sections typed with their shape, then a scan."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories, meshes
from tests.browser.actions import press, profile, sign_in
from tests.browser.conftest import TABLET, Served, serving
from tests.browser.fitness import assert_fit

FIRST = ("12", "1338", "44.6", "34.2", "138.6", "11")
SECOND = ("30", "1246", "43.4", "33.1", "133.0", "13.5")


@pytest.fixture
def shop(tmp_path: Path, migrated_file: Path) -> Iterator[tuple[Served, str]]:
    """A shop with a head in it, and the head's tag."""
    with serving(tmp_path / "shop", migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db, unit_system="si")
            factories.create_person(db, Role.OWNER)
            tag = factories.create_visit(db).tag
        yield served, tag


@pytest.mark.slow
def test_sections_and_a_scan_make_the_silhouette(chromium, shop, tmp_path):
    served, tag = shop
    page = profile(chromium, served.address, viewport=TABLET).new_page()
    sign_in(page)
    page.goto(f"/heads/{tag}/sections")
    page.fill("[name=cylinder]", "2")
    page.select_option("[name=when]", "before")
    page.locator("#rows-0-distance").focus()
    for one, other in zip(FIRST, SECOND, strict=True):
        for typed in (one, other):
            page.keyboard.type(typed)
            page.keyboard.press("Enter")
        # An empty cell of the first column ends it.
        if one == FIRST[0]:
            page.keyboard.press("Enter")
    press(page, "Save sections")
    expect(page.get_by_role("heading", name="Silhouette")).to_be_visible()
    expect(page.get_by_role("cell", name="38.61", exact=True)).to_be_visible()
    assert_fit(page)

    scan = tmp_path / "port.stl"
    scan.write_bytes(meshes.stl())
    page.get_by_role("link", name="Add scan").click()
    page.set_input_files("[name=scan]", scan)
    press(page, "Add scan")
    page.fill("[name=cylinder]", "2")
    page.select_option("[name=unit]", "mm")
    press(page, "Propose center line")
    assert len(page.input_value("[name=center_line]").split("\n")) == 9
    press(page, "Preview sections")
    expect(page.locator("svg.chart.wide, svg.chart.narrow").locator("visible=true")).to_be_visible()
    expect(page.get_by_role("cell", name="new")).to_have_count(8)
    assert_fit(page)
    press(page, "Save sections")
    expect(page.get_by_text("Saved: 8 sections from port.stl.")).to_be_visible()
    words = page.locator("svg[aria-labelledby^=silhouette] title").all_text_contents()
    assert any(text.startswith("before the work: 44.60 mm wide") for text in words)
    assert any(text.startswith("after the work: 34.00 mm wide") for text in words)
    for width in (1366, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert_fit(page)
