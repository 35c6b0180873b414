"""The purchase order: its words, over any number of pages, and the marks of what does not stand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pymupdf
import pytest

from shopflow import papers
from shopflow.documents import Display, Letterhead, Party
from shopflow.documents.purchase_order import OrderedPart, PurchaseOrder
from tests.pdf import boxes

AT = datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
VALVE = OrderedPart("EX-36", "Exhaust valve, 36 mm", "8 pc", Decimal("11.20"), Decimal("89.60"))
ORDER = PurchaseOrder(
    shop=Letterhead("Falling Water Heads", "1 Mill Lane\nEastmere"),
    display=Display(date_format="mdy"),
    supplier=Party("Northgate Valves", "14 Tannery Row\nEastmere"),
    contact="Order desk",
    account_number="LR-2207",
    number="PO-2026-0001",
    placed_at=AT,
    placed_by="Ruth",
    expected_on=date(2026, 3, 12),
    notes="Please no substitutes.",
    lines=(VALVE, replace(VALVE, number="LP", description="Paste", cost=None, amount=None)),
    total=Decimal("89.60"),
    cancelled="",
    made_at=AT,
)


def text_of(order: PurchaseOrder) -> list[str]:
    """Words of each page."""
    with pymupdf.open(stream=papers.purchase_order(order)) as pdf:
        return [" ".join(page.get_text().split()) for page in pdf]


def test_it_says_what_is_ordered_of_whom_and_where_to_deliver():
    (words,) = text_of(ORDER)
    for expected in (
        "Purchase order PO-2026-0001", "Northgate Valves", "14 Tannery Row", "EX-36",
        "Exhaust valve, 36 mm", "8 pc", "$11.20", "$89.60", "LR-2207", "Order desk",
        "Please no substitutes.", "Deliver to Falling Water Heads 1 Mill Lane", "Page 1 of 1",
    ):  # fmt: skip
        assert expected in words
    assert "Draft" not in words


@pytest.mark.parametrize(
    ("order", "mark"),
    [
        (replace(ORDER, placed_at=None, placed_by=""), "Draft"),
        (replace(ORDER, cancelled="price went up"), "Cancelled: price went up"),
    ],
)
def test_what_does_not_stand_says_so(order: PurchaseOrder, mark: str):
    assert mark in text_of(order)[0]


def test_a_long_order_goes_on_and_nothing_is_cut():
    long = replace(ORDER, lines=tuple(replace(VALVE, number=f"N-{n}") for n in range(1, 91)))
    pages = text_of(long)
    assert len(pages) > 1
    words = " ".join(pages)
    assert all(f"N-{n} " in words for n in range(1, 91))
    with pymupdf.open(stream=papers.purchase_order(long)) as pdf:
        assert all(boxes.outside(page) == [] for page in pdf)
