"""Kept pictures of one page of each paper.

`.venv/bin/python -m tests.pdf.references` renews them, after a change of look that was looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pymupdf
from PIL import Image, ImageChops, ImageStat

from shopflow import papers
from tests.pdf import samples

FOLDER = Path(__file__).with_name("references")
DPI = 40
TOLERANCE = 1.5
"""Mean difference of grey levels, of 255, that another drawing library's smoothing may make."""


def certificate() -> bytes:
    before, after = samples.session(), samples.session(stage="seats and bowls", gain=1.06)
    gains = (samples.gain(before, after),)
    return papers.flow_certificate(samples.certificate([before, after], gains))


SAMPLES: dict[str, Callable[[], bytes]] = {
    "flow-certificate": certificate,
    "work-order": lambda: papers.work_order(samples.work_order([samples.order_page()])),
    "bench-card": lambda: papers.bench_card(samples.card()),
    "hand-off": lambda: papers.hand_off(samples.hand_off()),
    "quote": lambda: papers.quote(samples.quote()),
    "invoice": lambda: papers.invoice(samples.invoice()),
    "credit-note": lambda: papers.invoice(samples.credit_note()),
    "collection-receipt": lambda: papers.collection(samples.receipt()),
    "dispatch-note": lambda: papers.collection(samples.dispatch()),
    "tags": lambda: papers.tags(samples.labels("letter-30", count=5, start=2)),
}


def picture(content: bytes) -> Image.Image:
    """A paper's first page in grey, as on a black and white printer."""
    with pymupdf.open(stream=content) as pdf:
        pixels = pdf[0].get_pixmap(dpi=DPI, colorspace=pymupdf.csGRAY)
        return Image.frombytes("L", (pixels.width, pixels.height), pixels.samples)


def difference(one: Image.Image, other: Image.Image) -> float:
    """Mean difference of two pictures' grey levels."""
    return float(ImageStat.Stat(ImageChops.difference(one, other)).mean[0])


def main() -> None:
    """Draw every reference anew."""
    FOLDER.mkdir(exist_ok=True)
    for name, make in SAMPLES.items():
        picture(make()).save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
