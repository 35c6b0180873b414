"""Make the pictures of README and of the how-tos from the demo shop, small enough to keep."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import pymupdf
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from shopflow import demo
from shopflow.resources import GUIDE, SEED_DATA
from tests.browser.chromium import ARGUMENTS, find
from tests.browser.conftest import serving

FOLDER = SEED_DATA / "pictures"
WIDTH = 860


def keep(name: str, content: bytes) -> None:
    """A picture with few colours, as screens and papers have."""
    picture = Image.open(io.BytesIO(content)).convert("RGB")
    if picture.width > WIDTH:
        size = (WIDTH, round(picture.height * WIDTH / picture.width))
        picture = picture.resize(size, Image.Resampling.LANCZOS)
    picture.quantize(96).save(FOLDER / f"{name}.png", optimize=True)


HOW_TO = GUIDE / "how-to" / "pictures"
HOW_TO_WIDTH, HOW_TO_HEIGHT = 760, 520

PAGES = {
    "book-a-head-in": "/jobs/new",
    "plan-the-work": "/heads/2026-0010-A/steps/work-plan",
    "write-a-quote": "/jobs/2026-0011/quote",
    "record-an-approval": "/jobs/2026-0009/approve",
    "start-and-sign-off-a-step": "/my-work",
    "put-a-head-on-hold": "/heads/2026-0006-A/hold",
    "take-a-flow-test": "/bench/2026-0006-A/test?range=1&side=intake&cylinder=1",
    "cut-a-scan-into-sections": "/heads/2026-0006-A/port",
    "compare-two-tests": "/heads/2026-0006-A/compare",
    "find-what-limits-a-port": "/heads/2026-0006-A/port/limit",
    "forecast-air-and-power": "/heads/2026-0006-A/cam",
    "issue-a-certificate": "/heads/2026-0006-A/certify",
    "take-a-payment": "/jobs/2026-0004/money/payments/new",
    "hand-a-job-over": "/jobs/2026-0004/collection",
    "see-what-worked": "/engines/2",
    "calibrate-a-bench": "/benches",
    "practise": "/first-days",
}
"""The page that a how-to is about, as the demo shop has it."""


BEGINS = {"compare-two-tests": ".charts"}
"""The first element of a picture, where it is not the heading."""


def keep_for_guide(page: Page, name: str) -> None:
    """The upper part of what a page is about, without the bar."""
    box = page.locator("main").bounding_box()
    first = page.locator(BEGINS.get(name, "main")).first.bounding_box()
    assert box is not None
    assert first is not None
    room = box["y"] + box["height"] - first["y"]
    taken = page.screenshot(
        clip={
            "x": box["x"],
            "y": first["y"],
            "width": box["width"],
            "height": min(room, HOW_TO_HEIGHT),
        },
        full_page=True,
    )
    picture = Image.open(io.BytesIO(taken)).convert("RGB")
    picture.quantize(64).convert("RGB").save(HOW_TO / f"{name}.webp", lossless=True, method=6)


def main() -> None:
    """Build the demo, serve it, and take the pictures."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        data = Path(folder) / "shop"
        row = demo.build(data)
        browser = playwright.chromium.launch(
            executable_path=find(playwright.chromium.executable_path), args=list(ARGUMENTS)
        )
        with serving(data) as served:
            page = browser.new_page(viewport={"width": 1200, "height": 760})
            page.goto(served.address)
            login, password = next(iter(row.passwords.items()))
            page.fill("[name='login']", login)
            page.fill("[name='password']", password)
            page.keyboard.press("Enter")
            page.wait_for_selector("nav")
            keep("floor", page.screenshot())
            page.set_viewport_size({"width": 1200, "height": 1060})
            page.goto(f"{served.address}/heads/2026-0006-A/compare")
            keep("compare", page.screenshot())
            page.set_viewport_size({"width": HOW_TO_WIDTH, "height": 900})
            for name, address in PAGES.items():
                page.goto(f"{served.address}{address}")
                keep_for_guide(page, name)
        certificate = next(path for path in row.papers if path.name.startswith("flow-cert"))
        with pymupdf.open(certificate) as pdf:
            keep("certificate", pdf[0].get_pixmap(dpi=90).tobytes("png"))
        browser.close()


if __name__ == "__main__":
    main()
