"""A walk in a real browser: a cam typed in, and two ports of a head set against each other on it
and on another, down to the place that limits each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from math import cos, radians
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from shopflow import testfile
from shopflow.database import session_factory
from shopflow.models import Role
from tests import factories
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import DESKTOP, serving
from tests.browser.fitness import assert_fit
from tests.cli.sessions import INTAKE_US

LOBE = "\n".join(
    f"{angle} {8.5 * cos(radians(90.0 * angle / 140.0)) ** 2 if abs(angle) < 140 else 0.0:.4f}"
    for angle in range(-140, 141, 10)
)
"""A lobe of 8.5 mm, measured every ten degrees."""


@pytest.fixture
def page(chromium: Browser, tmp_path: Path, migrated_file: Path) -> Iterator[Page]:
    """A tab at a shop that tested two intake ports of one head, the second flowing 4 % more."""
    with serving(tmp_path, migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            visit = factories.create_visit(db)
            first = replace(testfile.loads(INTAKE_US), cylinder="1")
            flows = tuple(tuple(run * 104 / 100 for run in runs) for runs in first.flows)
            for document in (first, replace(first, cylinder="2", flows=flows)):
                factories.create_session(db, visit, testfile.dumps(document))
        context = profile(chromium, served.address, viewport=DESKTOP)
        tab = context.new_page()
        complaints: list[str] = []
        tab.on("pageerror", lambda error: complaints.append(str(error)))
        sign_in(tab)
        tab.goto(f"/heads/{visit.tag}")
        yield tab
        context.close()
        assert not complaints


def add_cam(page: Page, name: str, duration: str = "") -> None:
    """Type a cam: its lobe as measured, or by duration and lift."""
    page.get_by_label("Name", exact=False).first.fill(name)
    page.get_by_label("Bore").fill("86.4 mm")
    page.get_by_label("Stroke").fill("86.4 mm")
    page.get_by_label("Engine speed, rpm").fill("6000")
    intake = page.get_by_role("group", name="Intake")
    intake.get_by_label("Centerline, crank degrees").fill("108")
    if duration:
        intake.get_by_label("Duration, crank degrees").fill(duration)
        intake.get_by_label("Greatest lobe lift").fill("8.5 mm")
    else:
        intake.get_by_label("Measured lobe").fill(LOBE)
        intake.get_by_label("Unit of the lifts").select_option("mm")
    press(page, "Save cam")


@pytest.mark.slow
def test_two_ports_are_compared_on_a_cam_typed_in_and_on_another(page: Page) -> None:
    head = page.url
    follow(page.get_by_role("link", name="Show through cam"))
    press(page, "Add job’s cam")
    add_cam(page, "Customer's own, measured")
    page.goto(f"{head}/cam")
    expect(page.get_by_role("heading", level=1)).to_have_text("Through the cam")
    follow(page.get_by_role("link", name="Job’s cams"))
    press(page, "Add cam")
    add_cam(page, "Longer", duration="300")
    page.goto(f"{head}/cam")
    page.get_by_label("Intake test").select_option(label="as received, cylinder 2")
    page.get_by_label("Compare intake with").select_option(label="as received, cylinder 1")
    press(page, "Show")
    table = page.get_by_role("table").filter(has_text="Difference in mean area")
    for cam in ("Customer's own, measured", "Longer"):
        # Every reading is 4 % more, so that the area is on any cam; the leakage adds a little.
        row = table.get_by_role("row").filter(has_text=cam)
        expect(row).to_contain_text(re.compile(r"\+4\.\d"))
    assert_fit(page)
    page.goto(head)
    follow(page.get_by_role("link", name="Show port limits"))
    expect(page.locator("main")).to_contain_text("the valve opening is the narrowest place")
    page.get_by_text("Change sizes on paper").click()
    page.get_by_label("Throat diameter").fill("1.56")
    press(page, "Calculate")
    expect(page.locator("main")).to_contain_text("geometry, not flow")
    assert_fit(page)
