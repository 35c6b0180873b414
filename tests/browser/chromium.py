"""Finding a Chromium to drive. Run as a module, it says where one is; status 1 where none is."""

from __future__ import annotations

import os
import sys
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


def find(own: str) -> Path | None:
    """SHOPFLOW_CHROMIUM, or the system's, or playwright's `own`; none where there is none."""
    named = os.environ.get("SHOPFLOW_CHROMIUM")
    places = [Path(named)] if named else [*USUAL_PLACES, Path(own)]
    return next((place for place in places if place.exists()), None)


def main() -> int:
    """Say where the browser is."""
    with sync_playwright() as playwright:
        found = find(playwright.chromium.executable_path)
    print(found or "no Chromium found; name one with SHOPFLOW_CHROMIUM")
    return 0 if found else 1


if __name__ == "__main__":
    sys.exit(main())
