"""Fixtures of the browser tests: a real server over a temporary shop, and a real Chromium."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import Browser, BrowserContext, Error, Page, sync_playwright
from waitress.server import create_server

from shopflow import create_app
from shopflow.config import Settings
from tests.browser.chromium import ARGUMENTS, find
from tests.postgres import leave_out

DESKTOP = {"width": 1366, "height": 900}
TABLET = {"width": 820, "height": 1180}


@dataclass(frozen=True)
class Served:
    """A running server: its address, and the app behind it."""

    address: str
    app: Flask


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


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """A server on a free port, over an empty shop."""
    app = create_app(Settings.for_folder(tmp_path / "shop"))
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield Served(f"http://127.0.0.1:{server.effective_port}", app)
    server.close()
    thread.join(timeout=10)
    app.extensions["shopflow.engine"].dispose()


@pytest.fixture
def browser(chromium: Browser, served: Served) -> Iterator[BrowserContext]:
    """A fresh profile of the browser, at home on the server."""
    context = chromium.new_context(base_url=served.address, viewport=DESKTOP, locale="en-US")
    context.set_default_timeout(10_000)
    yield context
    context.close()


@pytest.fixture
def page(browser: BrowserContext) -> Iterator[Page]:
    """A tab; anything it reports to its console as an error fails the test."""
    page = browser.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda message: complaints.append(message.text) if message.type == "error" else None,
    )
    yield page
    assert not complaints
