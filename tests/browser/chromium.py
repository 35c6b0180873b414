"""Finding a Chromium to drive."""

from __future__ import annotations

import os
from pathlib import Path

from playwright.sync_api import sync_playwright

USUAL_PLACES = (Path("/usr/bin/chromium"), Path("/usr/bin/chromium-browser"))
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def find(own: str = "") -> Path | None:
    """SHOPFLOW_CHROMIUM, or the system's, or playwright's `own`; none where there is none."""
    named = os.environ.get("SHOPFLOW_CHROMIUM")
    places = [Path(named)] if named else [*USUAL_PLACES, *map(Path, filter(None, [own]))]
    return next((place for place in places if place.exists()), None)


def is_installed() -> bool:
    """True where a browser is installed."""
    if find():
        return True
    try:
        with sync_playwright() as playwright:
            return find(playwright.chromium.executable_path) is not None
    except Exception:
        # Its driver lacks a library; playwright has no error of its own for that.
        return False
