"""Codes to scan, read off the rendered page by a reader that knows nothing of how they are made."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest
import zxingcpp
from PIL import Image

from shopflow import papers
from shopflow.documents.labels import LABELS
from tests.pdf import samples
from tests.pdf.readers import rendered

VERIFY = "https://shop.test/verify/FC-2026-0007?code=9F2C-07AB-51E0-D3C4"


def tag_sheet(label: str) -> bytes:
    return papers.tags(samples.labels(label))


PAPERS: dict[str, tuple[Callable[[], bytes], str]] = {
    "certificate": (
        lambda: papers.flow_certificate(samples.certificate([samples.session()], url=VERIFY)),
        VERIFY,
    ),
    "work order": (
        lambda: papers.work_order(samples.work_order([samples.order_page()])),
        samples.URL,
    ),
    "bench card": (lambda: papers.bench_card(samples.card()), samples.URL),
    **{f"tag {label}": (partial(tag_sheet, label), samples.URL)
       for label in LABELS},
}  # fmt: skip


def codes(pictures: list[Image.Image]) -> list[tuple[str, str]]:
    """Kind and text of every code found, page by page."""
    return [
        (str(code.symbology), code.text)
        for picture in pictures
        for code in zxingcpp.read_barcodes(picture)
    ]


@pytest.mark.parametrize(("dpi", "grey"), [(300, False), (150, True)], ids=["300", "150 grey"])
@pytest.mark.parametrize("name", PAPERS)
def test_a_code_leads_exactly_where_it_should(name: str, dpi: int, grey: bool) -> None:
    """Read by zxing-cpp: a QR code after ISO/IEC 18004, with the address and nothing else."""
    make, address = PAPERS[name]
    answer = codes(rendered(make(), dpi, grey=grey))
    assert {text for _, text in answer} == {address}
    assert {"QR" in kind for kind, _ in answer} == {True}
