"""Labels: every size, every place, the longest and oddest texts."""

from __future__ import annotations

import io
from itertools import pairwise
from typing import Any

import pikepdf
import pymupdf
import pytest

from shopflow import papers
from shopflow.documents.labels import LABELS
from tests.pdf import boxes, samples

LONGEST = {
    "customer": "Ö" * 200,
    "engine_type": samples.WORDS * 2,
    "casting": "M" * 60,
    "tag": "2026-0041-P" * 2,
}
NAMES = {"customer": f"{samples.CYRILLIC} {samples.GREEK} {samples.ACCENTS}"}
CASES = [
    (label, overrides)
    for label in LABELS
    for overrides in ({}, {"url": "", "casting": ""}, NAMES, LONGEST)
]


@pytest.mark.parametrize(("label", "overrides"), CASES)
def test_nothing_leaves_its_label_or_is_cut(label: str, overrides: dict[str, Any]) -> None:
    size = LABELS[label]
    content = papers.tags(samples.labels(label, **overrides))
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert pdf.check_pdf_syntax() == []
    with pymupdf.open(stream=content) as pdf:
        (page,) = pdf
        assert (page.rect.width, page.rect.height) == pytest.approx(size.page, abs=0.01)
        left, bottom = size.corner(0)
        top = size.page[1] - bottom - size.height
        for box in boxes.text_boxes(page):
            assert left < box.left, box
            assert box.right < left + size.width, box
            assert top < box.top, box
            assert box.bottom < top + size.height, box
        assert boxes.overlaps(page) == []
        assert boxes.covered(page) == []
        text = "".join(page.get_text().split())
        for value in samples.labels(label, **overrides).tags[0].__dict__.values():
            assert value.startswith("http") or "".join(value.split()) in text
        for font in page.get_fonts():
            assert "SourceSans" in font[3]


@pytest.mark.parametrize(
    ("label", "columns", "rows", "width", "height"),
    [
        # The sheets' own figures, in points: 70 × 37 mm, 2 5/8 × 1 in.
        ("a4-24", 3, 8, 198.43, 104.88),
        ("letter-30", 3, 10, 189.0, 72.0),
    ],
)
def test_a_sheet_is_filled_row_by_row_within_its_page(
    label: str, columns: int, rows: int, width: float, height: float
) -> None:
    size = LABELS[label]
    assert (size.width, size.height) == pytest.approx((width, height), abs=0.01)
    corners = [size.corner(place) for place in range(size.on_a_page)]
    assert len(set(corners)) == columns * rows
    assert all(x >= -0.01 and x + size.width <= size.page[0] + 0.01 for x, _ in corners)
    assert all(y >= -0.01 and y + size.height <= size.page[1] + 0.01 for _, y in corners)
    # Neither beside nor below each other do labels share paper.
    beside = [b[0] - a[0] for a, b in pairwise(corners) if b[1] == a[1]]
    assert min(beside) >= size.width - 0.01
    assert corners[0][1] - corners[columns][1] == pytest.approx(size.height)


def test_a_half_used_sheet_is_begun_at_its_first_free_place() -> None:
    content = papers.tags(samples.labels("letter-30", count=4, start=29))
    with pymupdf.open(stream=content) as pdf:
        assert [page.get_text().count("Mara Oslund") for page in pdf] == [2, 2]
        first = boxes.text_boxes(pdf[0])
        assert min(box.top for box in first) > 9 * 72 + 36
    with pytest.raises(ValueError, match="places 1 to 30"):
        papers.tags(samples.labels("letter-30", start=31))


def test_a_roll_gives_a_page_a_label() -> None:
    with pymupdf.open(stream=papers.tags(samples.labels("62x29", count=3))) as pdf:
        assert len(pdf) == 3
