"""Make README's pictures from the demo shop, small enough to keep."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import pymupdf
from PIL import Image
from playwright.sync_api import sync_playwright

from shopflow import demo
from shopflow.resources import SEED_DATA
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
        certificate = next(path for path in row.papers if path.name.startswith("flow-cert"))
        with pymupdf.open(certificate) as pdf:
            keep("certificate", pdf[0].get_pixmap(dpi=90).tobytes("png"))
        browser.close()


if __name__ == "__main__":
    main()
