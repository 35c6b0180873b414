"""Pages of papers: none with next to nothing on it, the letterhead on the first, no small type."""

from __future__ import annotations

from collections.abc import Iterator

import pymupdf
import pytest
from reportlab.lib.units import mm

from shopflow import papers
from shopflow.papers.style import SMALLEST
from tests.demo_shop import DemoShop
from tests.pdf import samples

KINDS = ("flow-certificate", "hand-off", "invoice", "credit-note", "quote", "work-order",
         "bench-card", "inspection-report")  # fmt: skip
HEAD, FOOT = 17 * mm, 17 * mm
"""Room of the line over a later page, and of its foot."""

LEAST_LINES = 5
"""Lines of text that a page at least holds besides its head and foot."""

ROUNDING = 0.01


def lines(page: pymupdf.Page) -> int:
    """Lines of text between a page's head and foot, those of one height counted once."""
    heights = {
        round(line["bbox"][3])
        for block in page.get_text("dict")["blocks"]
        if block["type"] == 0
        for line in block["lines"]
        if line["bbox"][1] > HEAD and line["bbox"][3] < page.rect.height - FOOT + 4 * mm
    }
    return len(heights)


def sizes(pdf: pymupdf.Document) -> Iterator[float]:
    """The size of every run of text."""
    for page in pdf:
        for block in page.get_text("dict")["blocks"]:
            for line in block.get("lines", ()):
                yield from (span["size"] for span in line["spans"])


@pytest.mark.parametrize("kind", KINDS)
def test_no_page_of_the_invented_shops_papers_is_nearly_empty(
    kind: str, demo_shop: DemoShop
) -> None:
    paths = sorted((demo_shop.folder / "papers").glob(f"{kind}-*.pdf"))
    assert paths
    for path in paths:
        with pymupdf.open(path) as pdf:
            for number, page in enumerate(pdf, start=1):
                assert lines(page) >= LEAST_LINES, f"{path.name}, page {number}"
            assert min(sizes(pdf)) >= SMALLEST - ROUNDING, path.name
            address = "Marlow Fork, Texas"
            assert address in pdf[0].get_text(), path.name
            repeated = [page.number for page in pdf if "counter@" in page.get_text()]
            assert repeated == [0], path.name


def one_too_many(count: int) -> bytes:
    return papers.invoice(samples.invoice(lines=samples.money_lines(count, "")))


@pytest.mark.parametrize("count", range(18, 40, 3))
def test_sums_and_payment_never_stand_alone_however_many_lines_there_are(count: int) -> None:
    with pymupdf.open(stream=one_too_many(count)) as pdf:
        for page in pdf:
            assert lines(page) >= LEAST_LINES
        assert pdf.page_count <= 2


@pytest.mark.parametrize("count", range(1, 32, 2))
def test_a_table_leaves_no_row_alone_on_a_page(count: int) -> None:
    order = samples.work_order([samples.order_page(measured=samples.measured(count), steps=())])
    with pymupdf.open(stream=papers.work_order(order)) as pdf:
        for page in pdf:
            assert lines(page) >= LEAST_LINES


def test_each_head_of_several_has_its_subtotal_and_a_single_one_none() -> None:
    first, second = samples.money_lines(2, "")
    lines_of_two = (first, type(second)("J-2026-0041-B", second.what, second.price))
    words = text(papers.invoice(samples.invoice(lines=(*lines_of_two, first))))
    # 2 × 45.05 and 1 × 45.05: sums by hand.
    assert "Subtotal of J-2026-0041-A $90.10" in words
    assert "Subtotal of J-2026-0041-B $45.05" in words
    assert "Subtotal" not in text(papers.invoice(samples.invoice()))


def text(content: bytes) -> str:
    with pymupdf.open(stream=content) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())
