"""Contents of quotes, invoices and credit notes."""

from __future__ import annotations

import dataclasses

import pymupdf

from shopflow import papers
from shopflow.documents.snapshot import from_plain, to_plain
from tests.pdf import samples as s


def words(content: bytes) -> str:
    """A paper's words, on one line."""
    with pymupdf.open(stream=content) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())


def test_a_quote_says_what_is_asked_and_for_how_much() -> None:
    text = words(papers.quote(s.quote()))
    # 4 × 45.05 = 180.20; 8.25 % of it 14.8665; together 195.07.
    for part in ("Mara Oslund", "Valid until 2026-04-04", "Sum before tax $180.20",
                 "Sales tax 8.25 % $14.87", "Total $195.07", "deposit of $75.00",
                 "rounded once, half up", "Signature"):  # fmt: skip
        assert part in text, part
    assert "Extra work" not in text


def test_extra_work_stands_apart() -> None:
    extras = s.money_lines(2)
    agreed = "Q-2026-0007, by Mara Oslund, telephone, 2026-03-02"
    text = words(papers.quote(s.quote(revision=2, extras=extras, agreed=agreed)))
    before, after = text.split("Extra work, or work that costs more: not done until you approve it")
    assert "Work agreed before" in before
    for part in ("Agreed before $180.20", "Extra work $90.10", "Sum before tax $270.30"):
        assert part in after, part
    assert agreed in before


def test_a_draft_says_so_and_is_not_to_be_signed() -> None:
    text = words(papers.quote(s.quote(draft=True)))
    assert "Draft, not given to the customer" in text
    assert "Signature" not in text


def test_an_invoice_comes_to_its_balance() -> None:
    text = words(papers.invoice(s.invoice()))
    for part in ("INV-2026-0003", "Tax number 41-7719", "Due 2026-03-19", "Total $195.07",
                 "Deposit taken −$75.00", "Balance to pay $120.07", "0042 117"):  # fmt: skip
        assert part in text, part


def test_a_credit_note_names_the_invoice_it_takes_back() -> None:
    text = words(papers.invoice(s.credit_note()))
    for part in ("Credit note", "invoice INV-2026-0003 of 2026-03-05", "wrong customer",
                 "Total credited $195.07"):  # fmt: skip
        assert part in text, part
    assert "Balance" not in text


def test_snapshots_keep_every_cent_and_older_ones_still_load() -> None:
    for content in (s.quote(extras=s.money_lines(1)), s.invoice()):
        plain = to_plain(content)
        assert from_plain(type(content), plain) == content
        for new in ("logo", "accent", "second"):
            del plain["shop"][new]
        for new in ("date_format", "currency"):
            del plain["display"][new]
        older = from_plain(type(content), plain)
        assert older == dataclasses.replace(content)
