"""A head's page through a figure outside its limits, pressed as at the bench, at both widths."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from shopflow.database import session_factory
from shopflow.models import Role
from shopflow.services.measuring import limits, measurements
from tests import factories
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import SIZES, Served
from tests.browser.fitness import assert_fit


@pytest.fixture
def tag(served: Served) -> str:
    """A head to have its seats cut, its run-out limited by its engine type."""
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        factories.create_shop(db)
        factories.create_person(db, Role.OWNER)
        visit = factories.create_visit(db)
        for kind in ("seat-cut", "port-work", "flow-test", "assembly"):
            factories.create_operation(db, visit, kind)
        factories.approve(db, factories.BY, visit.job, "Ada", "telephone")
        run_out = measurements.kind_by_code(db, "seat run-out")
        engine_type = visit.head.engine_type
        limits.set_(db, factories.BY, engine_type, run_out, "", {"upper": "0.04 mm"})
        return visit.tag


@pytest.fixture(params=SIZES, ids=["desktop", "tablet"])
def page(request: pytest.FixtureRequest, chromium: Browser, served: Served) -> Iterator[Page]:
    """A tab of this size."""
    size = request.param
    context = profile(chromium, served.address, viewport=size)
    yield context.new_page()
    context.close()


@pytest.mark.slow
def test_a_head_is_worked_on_stopped_asked_about_and_gone_on_with(page: Page, tag: str):
    sign_in(page)
    page.goto(f"/heads/{tag}")
    press(page, "Start step")
    expect(page.get_by_text("Nila Owner working since").first).to_be_visible()
    assert_fit(page)
    follow(page.get_by_role("link", name="Seat run-out").first)
    page.get_by_label("Cylinder").fill("2")
    page.get_by_label("Measured").fill("0.09 mm")
    press(page, "Save measurement")
    expect(page.get_by_text("Saved: Seat run-out")).to_be_visible()
    assert_fit(page)
    page.goto(f"/heads/{tag}")
    expect(
        page.get_by_text("Work is on hold until someone decides how to continue.")
    ).to_be_visible()
    expect(page.get_by_role("button", name="Sign off")).to_have_count(0)
    assert_fit(page)
    follow(page.get_by_role("link", name="Record decision"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Decide how to continue")
    assert_fit(page)
    page.get_by_label("How to continue").select_option("ask the customer")
    page.get_by_label("Reason").fill("The seat gets thin")
    press(page, "Save decision")
    expect(page.get_by_text("Work is on hold until the customer answers.")).to_be_visible()
    press(page, "Record answer")
    expect(page.get_by_role("heading", level=1)).to_have_text("The customer's answer")
    assert_fit(page)
    page.get_by_label("The customer wants to").select_option("do it again")
    page.get_by_label("Answer").fill("Pilot had picked up on a burr")
    press(page, "Save answer")
    expect(page.get_by_text("Repeat: Pilot had picked up on a burr", exact=True)).to_be_visible()
    page.get_by_label("Reason for not measuring").fill("Seats are cut again")
    press(page, "Sign off step")
    expect(page.get_by_text("Signed off: Cut seats.", exact=True)).to_be_visible()
    assert_fit(page)
    page.locator(".routing details").nth(2).click()
    follow(page.locator(".routing details").nth(2).get_by_role("link", name="Move"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Move: Port")
    assert_fit(page)
