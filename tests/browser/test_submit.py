"""Buttons of a form that is on its way are disabled, and come back where the page stays."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import func, select

from shopflow.database import session_factory
from shopflow.models import Customer, Role
from tests import factories
from tests.browser.actions import profile, sign_in
from tests.browser.conftest import Served, serving


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, migrated_file: Path) -> Iterator[Served]:
    """A server over a shop with an owner."""
    with serving(tmp_path_factory.mktemp("shop"), migrated_file) as running:
        with session_factory(running.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
        yield running


@pytest.fixture
def page(chromium: Browser, shop: Served) -> Iterator[Page]:
    """The form of a new customer, filled in."""
    context = profile(chromium, shop.address)
    page = context.new_page()
    sign_in(page)
    page.goto("/customers/new")
    page.get_by_label("Name").fill("Orla Finch")
    yield page
    context.close()


def count(shop: Served) -> int:
    with session_factory(shop.app.extensions["shopflow.engine"])() as db:
        return db.scalar(select(func.count()).select_from(Customer)) or 0


def test_a_button_pressed_twice_saves_once(page: Page, shop: Served):
    before = count(shop)
    with page.expect_navigation():
        page.locator("form.form button.button").dblclick()
    expect(page.get_by_role("heading", level=1)).to_have_text("Orla Finch")
    assert count(shop) == before + 1


def test_buttons_are_disabled_while_the_form_is_on_its_way_and_come_back_with_the_page(page: Page):
    button, form = page.locator("form.form button.button"), page.locator("form.form")
    # The event alone, without the request: the page stays as it is while one is waited for.
    form.evaluate("form => form.dispatchEvent(new SubmitEvent('submit', {bubbles: true}))")
    expect(button).to_be_disabled()
    expect(page.locator("form.form")).to_have_attribute("aria-busy", "true")
    # As when the request fails and the page is shown again.
    page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))")
    expect(button).to_be_enabled()
    expect(page.locator("form.form")).not_to_have_attribute("aria-busy", "true")
    expect(page.get_by_label("Name")).to_have_value("Orla Finch")


def test_going_back_to_a_form_finds_its_button_enabled(page: Page):
    with page.expect_navigation():
        page.locator("form.form button.button").click()
    page.go_back()
    expect(page.locator("form.form button.button")).to_be_enabled()
