"""The one browser of a test process; whoever drives it asks for the fixture `chromium`."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Error, sync_playwright

from tests.browser.chromium import ARGUMENTS, find
from tests.programs import leave_out


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """A browser, started once."""
    with sync_playwright() as playwright:
        program = find(playwright.chromium.executable_path)
        if program is None:
            leave_out("the browser tests", "there is no Chromium here")
        try:
            browser = playwright.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        except Error as error:
            leave_out("the browser tests", f"Chromium does not start: {error.message}")
            raise
        yield browser
        browser.close()
