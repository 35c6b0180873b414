"""Checks of a page for eyes, gloves and screen readers."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

SMALL_TARGETS = """() =>
  [...document.querySelectorAll("button, input, select, textarea, summary, .bar a, .choices a")]
    .filter((item) => item.type !== "hidden" && item.type !== "checkbox" && item.offsetParent)
    .filter((item) => item.ariaHidden !== "true" || item.tabIndex !== -1)
    .filter((item) => item.getBoundingClientRect().height < 43.9)
    .map((item) => item.outerHTML.slice(0, 100))"""
"""Whatever is pressed or typed in and is under 44 px high; ticks have their label beside them."""

NO_SIDEWAYS_SCROLL = "document.documentElement.scrollWidth <= window.innerWidth"

# What axe finds right is many times longer than what it finds wrong, and is read by nobody.
RUN_AXE = "options => axe.run(options).then(({ violations }) => violations)"


def violations(page: Page, **options: Any) -> list[dict[str, Any]]:
    """Rules that the page breaks, as axe tells them; `options` are those of `axe.run`."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE_SCRIPT)
    broken: list[dict[str, Any]] = page.evaluate(
        RUN_AXE, {"resultTypes": ["violations"], **options}
    )
    return broken


def assert_fit(page: Page) -> None:
    """The page is fit for eyes, gloves and screen readers."""
    assert page.evaluate(NO_SIDEWAYS_SCROLL), page.url
    assert page.evaluate(SMALL_TARGETS) == [], page.url
    broken = violations(page)
    assert not broken, [
        (page.url, rule["id"], [node["html"] for node in rule["nodes"]]) for rule in broken
    ]
