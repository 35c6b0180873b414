"""Every paper the invented shop printed: sound, nothing cut, nothing on top of anything."""

from __future__ import annotations

import pikepdf
import pymupdf
import pytest

from tests.demo_shop import DemoShop
from tests.pdf import boxes

KINDS = {
    "bench-card": "Bench card",
    "flow-certificate": "Flow certificate",
    "hand-off": "Hand-off sheet",
    "inspection-report": "Inspection report",
    "invoice": "Invoice",
    "credit-note": "Credit note",
    "quote": "Quote",
    "tags": "Promised",
    "work-order": "Work order",
}
MARGIN = 40.0


@pytest.mark.parametrize("kind", KINDS)
def test_every_paper_of_a_kind_is_in_order(kind: str, demo_shop: DemoShop) -> None:
    paths = sorted((demo_shop.folder / "papers").glob(f"{kind}-*.pdf"))
    assert paths
    for path in paths:
        with pikepdf.open(path) as checked:
            assert checked.check_pdf_syntax() == [], path
        with pymupdf.open(path) as pdf:
            assert not pdf.is_repaired
            for page in pdf:
                assert KINDS[kind] in page.get_text(), path
                assert boxes.overlaps(page) == [], path
                assert boxes.strays(page, 0.0 if kind == "tags" else MARGIN) == [], path
                assert boxes.outside(page) == [], path
                assert boxes.crossed(page) == [], path
                assert boxes.covered(page) == [], path
                for reference, _, _, base, *_ in page.get_fonts():
                    assert "SourceSans" in base, path
                    assert pdf.extract_font(reference)[3], path
