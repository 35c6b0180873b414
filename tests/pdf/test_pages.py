"""Every page of every paper: whole, legible, self-contained, and the same each time."""

from __future__ import annotations

import io
import itertools

import pikepdf
import pymupdf
import pytest

from shopflow.papers.sheet import MARGIN
from tests.pdf import boxes
from tests.pdf.cases import CASES

SIZES = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
"""ISO 216 and ANSI/ASME Y14.1, in points."""


def test_a_paper_is_sound(content: bytes) -> None:
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert pdf.check() == []


def test_only_the_shops_typeface_is_used_and_it_is_inside(pdf: pymupdf.Document) -> None:
    found = {font for page in pdf for font in page.get_fonts(full=True)}
    assert found
    for _, extension, _, name, *_ in found:
        assert name.split("+")[1].startswith("SourceSansPro-")
        assert extension == "ttf"


def test_no_text_lies_on_other_text_or_is_cut(pdf: pymupdf.Document) -> None:
    for page in pdf:
        assert boxes.overlaps(page) == []
        assert boxes.crossed(page) == []
        assert boxes.covered(page) == []


def test_everything_stays_on_the_page_and_text_between_the_margins(
    pdf: pymupdf.Document,
) -> None:
    for page in pdf:
        assert boxes.strays(page, MARGIN) == []
        assert boxes.outside(page) == []


def test_no_page_is_blank_and_none_is_black(pdf: pymupdf.Document) -> None:
    for page in pdf:
        words = [box for box in boxes.text_boxes(page) if 80 < box.top < page.rect.height - 50]
        assert words, f"nothing between head and foot of page {page.number + 1}"
        assert 0.01 < boxes.ink(page) < 0.35


def test_every_page_says_which_paper_it_is_and_which_page_of_how_many(
    pdf: pymupdf.Document,
) -> None:
    title = pdf.metadata["title"]
    for place, page in enumerate(pdf, start=1):
        text = page.get_text()
        assert f"Page {place} of {pdf.page_count}" in text
        assert title in text


def test_the_papers_come_in_the_shops_size(case: str, pdf: pymupdf.Document) -> None:
    a4 = "A4" in case or "forty" in case or case in {
        "work order, longest texts", "hand-off, longest texts",
    }  # fmt: skip
    for page in pdf:
        size = (page.rect.width, page.rect.height)
        assert size == pytest.approx(SIZES["A4" if a4 else "Letter"], abs=0.1)


def test_the_document_describes_itself(pdf: pymupdf.Document) -> None:
    assert pdf.metadata["title"].split()[0] in {"Flow", "Work", "Hand-off"}
    assert pdf.metadata["author"]
    assert pdf.metadata["creationDate"] == "D:20260305233000Z"
    assert pdf.xref_get_key(pdf.pdf_catalog(), "Lang") == ("string", "en")


SOME = ["certificate, Letter, US", "work order, Letter", "hand-off, A4, two heads"]


@pytest.mark.parametrize("name", SOME)
def test_the_same_data_give_the_same_bytes(name: str, printed: dict[str, bytes]) -> None:
    first = printed.setdefault(name, CASES[name]())
    assert CASES[name]() == first


def test_no_two_papers_are_alike(printed: dict[str, bytes]) -> None:
    made = [printed.setdefault(name, CASES[name]()) for name in SOME]
    assert all(one != other for one, other in itertools.combinations(made, 2))
