"""A paper printed to a PDF by Chromium: it says what it is, though nothing but its text is left."""

from __future__ import annotations

import io

import pikepdf
import pymupdf
import pytest
from playwright.sync_api import Browser

from shopflow import claims, papers
from tests.pdf import samples


def printed(chromium: Browser, pdf: bytes) -> bytes:
    """The pages of a paper, shown and printed to a PDF."""
    with pymupdf.open(stream=pdf) as document:
        pages = "".join(page.get_svg_image(text_as_path=False) for page in document)
    page = chromium.new_page()
    try:
        page.set_content(pages)
        return page.pdf(prefer_css_page_size=True)
    finally:
        page.close()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("pdf", "title"),
    [
        (papers.flow_certificate(samples.certificate([samples.session()])), "Flow certificate FC-"),
        (papers.invoice(samples.invoice()), "Invoice INV-"),
        (papers.hand_off(samples.hand_off()), f"Hand-off sheet {samples.head().tag}"),
    ],
    ids=["certificate", "invoice", "hand-off"],
)
def test_a_copy_printed_by_chromium_says_which_paper_it_is(
    chromium: Browser, pdf: bytes, title: str
) -> None:
    copy = printed(chromium, pdf)
    with pikepdf.open(io.BytesIO(copy)) as document:
        assert not document.attachments
        assert "shopflow" not in str(document.docinfo.get("/Producer"))
    claim, original = claims.read(copy), claims.read(pdf)
    assert claim.title.startswith(title)
    assert (claim.number, claim.code) == (original.number, original.code)
