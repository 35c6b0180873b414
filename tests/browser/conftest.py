"""Fixtures of the browser tests: a real server over a temporary shop, and a real Chromium."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from flask import Flask
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    ViewportSize,
)

from shopflow import create_app
from shopflow.config import DATABASE_FILE, Settings
from tests.browser.actions import profile
from tests.listening import listening

DESKTOP: ViewportSize = {"width": 1366, "height": 900}
TABLET: ViewportSize = {"width": 820, "height": 1180}
SIZES = [pytest.param(DESKTOP, marks=pytest.mark.long), TABLET]
"""For pages in a state of their own; every page is looked at in both by test_every_page.py."""


@dataclass(frozen=True)
class Served:
    """A running server: its address, and the app behind it."""

    address: str
    app: Flask


@contextmanager
def serving(folder: Path, database: Path | None = None) -> Iterator[Served]:
    """A server on a free port, over the shop in this folder, while the block lasts.

    `database` is a file to begin with, instead of the folder's own.
    """
    settings = Settings.for_folder(folder)
    if database is not None:
        shutil.copyfile(database, folder / DATABASE_FILE)
    app = create_app(settings)
    try:
        with listening(app, threads=4) as port:
            yield Served(f"http://127.0.0.1:{port}", app)
    finally:
        app.extensions["shopflow.engine"].dispose()


@pytest.fixture
def served(tmp_path: Path, migrated_file: Path) -> Iterator[Served]:
    """A server over an empty shop."""
    with serving(tmp_path / "shop", migrated_file) as running:
        yield running


@pytest.fixture
def browser(chromium: Browser, served: Served) -> Iterator[BrowserContext]:
    """A fresh profile of the browser, at home on the server."""
    context = profile(chromium, served.address, viewport=DESKTOP)
    yield context
    context.close()


@pytest.fixture
def page(browser: BrowserContext) -> Iterator[Page]:
    """A tab; anything it reports to its console as an error fails the test."""
    page = browser.new_page()
    complaints: list[str] = []

    def listen(message: ConsoleMessage) -> None:
        # A refused form comes with status 422, which the console notes as if it were a failure.
        if message.type == "error" and "status of 422" not in message.text:
            complaints.append(message.text)

    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", listen)
    yield page
    assert not complaints


@pytest.fixture(scope="session")
def pictures() -> Path:
    """Folder where tests leave screenshots."""
    folder = Path(__file__).parents[1] / "output" / "browser"
    folder.mkdir(parents=True, exist_ok=True)
    return folder
