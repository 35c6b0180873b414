"""Every paper looks as it did when it was last looked at, in grey."""

from __future__ import annotations

import pytest
from PIL import Image

from tests.pdf.references import FOLDER, SAMPLES, TOLERANCE, difference, picture


@pytest.mark.parametrize("name", SAMPLES)
def test_a_paper_looks_like_its_kept_picture(name: str) -> None:
    drawn = picture(SAMPLES[name]())
    with Image.open(FOLDER / f"{name}.png") as stored:
        assert drawn.size == stored.size
        answer = difference(drawn, stored)
    assert answer < TOLERANCE, f"differs by {answer:.2f}: look, then run tests.pdf.references"


def test_the_tolerance_tells_two_papers_apart() -> None:
    with (
        Image.open(FOLDER / "quote.png") as quote,
        Image.open(FOLDER / "invoice.png") as invoice,
    ):
        assert difference(quote, invoice) > TOLERANCE
