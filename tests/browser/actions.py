"""Driving a browser as people do: a profile, signing in, pressing what leads to another page."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests import factories
from tests.patience import PATIENCE

expect.set_options(timeout=PATIENCE * 1000)


def profile(chromium: Browser, address: str, **more: Any) -> BrowserContext:
    """A fresh profile, at home on the server; `more` is what playwright's contexts take.

    Its pages are not kept for when there is no network: tests/browser/test_offline.py has them so.
    """
    options = {"service_workers": "block", **more}
    context = chromium.new_context(base_url=address, locale="en-US", **options)
    context.set_default_timeout(PATIENCE * 1000)
    return context


def sign_in(page: Page, login: str = "owner", password: str = factories.PASSWORD) -> None:
    """Come in by the sign-in page."""
    page.goto("/sign-in")
    page.get_by_label("User name").fill(login)
    page.get_by_label("Password").fill(password)
    press(page, "Sign in")
    page.wait_for_url(lambda address: "/sign-in" not in address)


def press(page: Page, words: str) -> None:
    """Press the button or link of these words, and be on the page it leads to."""
    button = page.get_by_role("button", name=words, exact=True)
    follow(button.or_(page.get_by_role("link", name=words, exact=True)).first)


def follow(link: Locator) -> None:
    """Press this, and be on the page it leads to: a click alone doesn't wait for it."""
    with link.page.expect_navigation():
        link.click()
