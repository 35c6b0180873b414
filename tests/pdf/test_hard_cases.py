"""Every paper at its hardest: all of it there, nothing clipped, nothing on top of anything."""

from __future__ import annotations

import dataclasses
import io
import re
from collections.abc import Callable
from decimal import Decimal
from functools import cache
from typing import Any

import pikepdf
import pymupdf
import pytest

from shopflow import documents as data
from shopflow import papers
from shopflow.documents.collection import PartBack
from shopflow.documents.invoice import Received
from shopflow.resources import SEED_DATA
from shopflow.testfile import SessionDocument
from tests.pdf import boxes, samples
from tests.pdf.readers import READERS

LONG = samples.WORDS * 40
UNBROKEN = "Ö" * 199
LOGO = (SEED_DATA / "pictures" / "logo.png").read_bytes()
MARGIN = 40.0
"""Points; every paper keeps at least this much white at either side."""


def certificate(*documents: SessionDocument, **settings: Any) -> bytes:
    return papers.flow_certificate(samples.certificate(list(documents), **settings))


def before_and_after(**settings: Any) -> bytes:
    before = samples.session(notes="Entry radius 12 mm, no adapter.")
    after = samples.session(stage="seats and bowls", gain=1.06)
    return certificate(before, after, gains=(samples.gain(before, after),), **settings)


def order(*pages: data.WorkOrderHead, **settings: Any) -> bytes:
    return papers.work_order(samples.work_order(list(pages), **settings))


def bare_order() -> bytes:
    job = data.JobFacts("J-1", samples.AT)
    page = data.WorkOrderHead(data.HeadIdentity("J-1-A", "Gannet"), (), (), ())
    return order(page, job=job, customer=data.Party("M. Oslund"), shop=data.Letterhead("Shop"))


def bare_hand_off() -> bytes:
    return papers.hand_off(
        samples.hand_off(
            valves=(), figures=(), measured=(), to_check=(), cautions=(),
            addressee="", notes="", signed_by="", signed_at=None,
        )
    )  # fmt: skip


def abroad(name: str) -> Callable[[], bytes]:
    return lambda: certificate(
        samples.session(stage=name), shop=samples.shop(name), customer=data.Party(name)
    )


CASES: dict[str, Callable[[], bytes]] = {
    "certificate, before and after": before_and_after,
    "certificate, A4 and SI": lambda: before_and_after(display=samples.SIZES["A4"]),
    "certificate, revised, with a code": lambda: before_and_after(
        revision=2, revision_reason=samples.WORDS, url="https://shop.test/c/FC-2026-0007"
    ),
    "certificate, one lift, nothing optional": lambda: certificate(
        samples.session(lifts=1, whole=False), customer=data.Party("M. Oslund")
    ),
    "certificate, forty lifts": lambda: certificate(
        samples.session(lifts=40), display=samples.SIZES["A4"]
    ),
    "certificate, sixteen ports": lambda: certificate(
        *(samples.session(cylinder=str(place), gain=1 + place / 200) for place in range(1, 17))
    ),
    "certificate, twelve stages of a port": lambda: certificate(
        *(samples.session(stage=f"stage {place}", gain=1 + place / 99) for place in range(12))
    ),
    "certificate, longest texts": lambda: certificate(
        samples.session(stage=UNBROKEN, notes=LONG),
        customer=data.Party(UNBROKEN, LONG),
        head=samples.head(condition=LONG, serial=UNBROKEN),
        job=samples.job(fuel=UNBROKEN),
    ),
    "certificate, accents": abroad(samples.ACCENTS),
    "certificate, Cyrillic": abroad(samples.CYRILLIC),
    "certificate, Greek": abroad(samples.GREEK),
    "certificate, Japanese and Korean": abroad(samples.CJK),
    "certificate, Chinese": abroad(samples.CHINESE),
    "certificate, Arabic": abroad(samples.ARABIC),
    "certificate, Hebrew": abroad(samples.HEBREW),
    "certificate, Thai": abroad(samples.THAI),
    "certificate, Hindi": abroad(samples.DEVANAGARI),
    "certificate, Bengali": abroad(samples.BENGALI),
    "certificate, Tamil": abroad(samples.TAMIL),
    "certificate, Burmese": abroad(samples.BURMESE),
    "certificate, Khmer": abroad(samples.KHMER),
    "certificate, no glyphs for the name": abroad(samples.TIBETAN),
    "work order, Arabic over many lines": lambda: order(
        samples.order_page(head=samples.head(condition=f"{samples.ARABIC} (12 mm) " * 30)),
        customer=data.Party(samples.ARABIC),
    ),
    "work order": lambda: order(samples.order_page()),
    "work order, A4": lambda: order(samples.order_page(), display=samples.SIZES["A4"]),
    "work order, two heads": lambda: order(samples.order_page(), samples.order_page(url="")),
    "work order, nothing known": bare_order,
    "work order, longest texts": lambda: order(
        samples.order_page(
            head=samples.head(condition=LONG, parts_received=LONG), steps=samples.steps(4, LONG)
        ),
        job=samples.job(asked_for=LONG, fuel=UNBROKEN),
        customer=data.Party(UNBROKEN),
    ),
    "hand-off": lambda: papers.hand_off(samples.hand_off()),
    "hand-off, A4": lambda: papers.hand_off(samples.hand_off(samples.SIZES["A4"])),
    "hand-off, two heads": lambda: papers.hand_off(samples.hand_off(), samples.hand_off()),
    "hand-off, nothing known": bare_hand_off,
    "hand-off, longest texts": lambda: papers.hand_off(
        samples.hand_off(
            notes=LONG,
            to_check=(samples.WORDS,) * 40,
            cautions=(LONG,) * 3,
            measured=samples.measured(60),
            addressee=UNBROKEN,
        )
    ),
    "collection receipt": lambda: papers.collection(samples.receipt()),
    "collection receipt, nothing with it": lambda: papers.collection(
        samples.receipt(parts=(), papers=(), job=data.JobFacts("J-1", samples.AT), heads=("J-1-A",))
    ),
    "collection receipt, longest texts": lambda: papers.collection(
        samples.receipt(
            handed_to=UNBROKEN,
            heads=(LONG, UNBROKEN),
            parts=tuple(
                PartBack(f"J-2026-0041-{row}", UNBROKEN[:60], 9_999, 0, LONG[:200])
                for row in "ABCDEFGH" * 5
            ),
            papers=(UNBROKEN,) * 9,
            remarks=f"{LONG}\n{UNBROKEN}",
            customer=data.Party(UNBROKEN, LONG),
            balance=Decimal("-99999999.99"),
        )
    ),
    "dispatch note": lambda: papers.collection(samples.dispatch()),
    "dispatch note, A4": lambda: papers.collection(samples.dispatch(samples.SIZES["A4"])),
    "quote": lambda: papers.quote(samples.quote()),
    "quote, A4, German dates": lambda: papers.quote(
        samples.quote(dataclasses.replace(samples.SIZES["A4"], date_format="de", currency="EUR"))
    ),
    "quote, extra work, with a logo": lambda: papers.quote(
        samples.quote(
            revision=2,
            agreed="Q-2026-0007, by Mara Oslund, telephone, 2026-03-02",
            extras=samples.money_lines(2),
            shop=dataclasses.replace(samples.shop(), logo=LOGO, accent="#22403a"),
        )
    ),
    "quote, draft of nothing": lambda: papers.quote(
        samples.quote(
            lines=(), draft=True, deposit=Decimal(0), conditions="", payment_terms="",
            job=data.JobFacts("J-1", samples.AT), heads=(), customer=data.Party("M."),
        )
    ),
    "quote, longest texts": lambda: papers.quote(
        samples.quote(
            lines=samples.money_lines(90, samples.WORDS * 9),
            conditions=f"{LONG}\n{UNBROKEN}",
            payment_terms=LONG,
            customer=data.Party(UNBROKEN, f"{LONG}\n{UNBROKEN}"),
            heads=(UNBROKEN,) * 16,
            shop=dataclasses.replace(samples.shop(UNBROKEN), address=LONG, logo=LOGO),
            tax=samples.tax((), exemption=LONG),
        )
    ),
    "invoice": lambda: papers.invoice(samples.invoice()),
    "invoice, A4": lambda: papers.invoice(samples.invoice(samples.SIZES["A4"])),
    "invoice, paid too much": lambda: papers.invoice(
        samples.invoice(
            balance=Decimal("-99999999.99"),
            received=(Received(UNBROKEN, Decimal("99999999.99")),) * 12,
            lines=samples.money_lines(90, ""),
            reason=LONG,
            payment_to=LONG,
            customer=data.Party(f"{samples.CYRILLIC} {samples.GREEK}", samples.ACCENTS),
        )
    ),
    "credit note": lambda: papers.invoice(samples.credit_note()),
    "bench card": lambda: papers.bench_card(samples.card()),
    "bench card, A4, two heads": lambda: papers.bench_card(
        samples.card(samples.SIZES["A4"], heads=2)
    ),
    "bench card, forty lifts": lambda: papers.bench_card(samples.card(lifts=40)),
    "bench card, nothing known": lambda: papers.bench_card(
        samples.card(
            heads=0, job=data.JobFacts("J-1", samples.AT), customer=data.Party("M."),
        )
    ),
    "bench card, longest texts": lambda: papers.bench_card(
        samples.card(lifts=0, job=samples.job(asked_for=LONG), customer=data.Party(UNBROKEN))
    ),
}  # fmt: skip
each = pytest.mark.parametrize("name", CASES)


@cache
def printed(name: str) -> bytes:
    return CASES[name]()


def pages(name: str) -> list[pymupdf.Page]:
    return list(pymupdf.open(stream=printed(name), filetype="pdf"))


@each
def test_no_text_lies_on_text_or_leaves_the_margins(name: str) -> None:
    for page in pages(name):
        assert boxes.overlaps(page) == []
        assert boxes.strays(page, MARGIN) == []
        assert boxes.outside(page) == []
        assert boxes.crossed(page) == []


@each
def test_no_page_is_blank_and_each_counts_itself(name: str) -> None:
    answer = pages(name)
    for index, page in enumerate(answer, start=1):
        text = page.get_text()
        assert f"Page {index} of {len(answer)}" in text
        body = [box for box in boxes.text_boxes(page) if 70 < box.top < page.rect.height - 45]
        assert body, f"page {index} has nothing on it"
        assert boxes.ink(page) > 0.002


@each
def test_the_kind_and_number_stand_on_every_page(name: str) -> None:
    kinds = {"certificate": "Flow certificate", "work order": "Work order",
             "hand-off": "Hand-off sheet", "quote": "Quote", "invoice": "Invoice",
             "credit note": "Credit note", "bench card": "Bench card",
             "collection receipt": "Collection receipt",
             "dispatch note": "Dispatch note"}  # fmt: skip
    kind = kinds[name.split(",")[0]]
    for page in pages(name):
        text = page.get_text()
        assert kind in text
        assert re.search(r"FC-2026-0007|J-2026-0041|J-1|(Q|INV|CN)-2026-000\d|Draft", text)


@each
def test_only_our_own_typefaces_are_used_and_they_are_embedded(name: str) -> None:
    with pymupdf.open(stream=printed(name), filetype="pdf") as document:
        names = {font[:5] for number in range(len(document)) for font in
                 document.get_page_fonts(number)}  # fmt: skip
        assert names
        for reference, kind, _, base, _ in names:
            assert re.search("SourceSans|NotoSans", base), base
            assert kind != "n/a", base
            assert document.extract_font(reference)[3], base


@each
def test_the_file_is_sound(name: str) -> None:
    with pikepdf.open(io.BytesIO(printed(name))) as pdf:
        assert pdf.check_pdf_syntax() == []
        assert str(pdf.docinfo.Title)
        assert str(pdf.docinfo.Author)
        assert str(pdf.docinfo.Producer) == "shopflow"
        assert str(pdf.docinfo.CreationDate) == "D:20260305233000Z"


@each
def test_the_file_describes_itself_in_xmp_as_well(name: str) -> None:
    """ISO 16684-1: the Dublin Core and XMP properties say what the document information says."""
    with pikepdf.open(io.BytesIO(printed(name))) as pdf, pdf.open_metadata() as xmp:
        assert xmp["dc:title"] == str(pdf.docinfo.Title)
        assert xmp["dc:creator"] == [str(pdf.docinfo.Author)]
        assert xmp["dc:date"] == ["2026-03-05T23:30:00+00:00"]
        assert xmp["xmp:CreateDate"] == xmp["xmp:ModifyDate"] == "2026-03-05T23:30:00+00:00"
        assert xmp["pdf:Producer"] == "shopflow"


@pytest.mark.parametrize("reader", READERS)
def test_other_programs_read_a_certificate_without_a_word(reader: str) -> None:
    content = printed("certificate, Chinese")
    assert READERS[reader](content) == []
    assert READERS[reader](content[: len(content) // 2]) != [], "half a file is objected to"


def test_another_program_reads_its_xmp() -> None:
    with pymupdf.open(stream=printed("certificate, Chinese")) as pdf:
        assert "dc:title" in pdf.get_xml_metadata()


@pytest.mark.parametrize(
    "name",
    [
        "certificate, before and after",
        "work order, two heads",
        "hand-off",
        "quote",
        "invoice",
        "collection receipt",
    ],
)
def test_the_same_data_give_the_same_bytes(name: str) -> None:
    assert CASES[name]() == printed(name)


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("certificate, before and after", (612, 792)),
        ("certificate, A4 and SI", (595.28, 841.89)),
        ("work order, A4", (595.28, 841.89)),
        ("hand-off, A4", (595.28, 841.89)),
        ("invoice, A4", (595.28, 841.89)),
        ("quote", (612, 792)),
        ("dispatch note, A4", (595.28, 841.89)),
    ],
)
def test_pages_have_the_size_chosen(name: str, size: tuple[float, float]) -> None:
    """ISO 216 A4 and ANSI Letter, in points."""
    for page in pages(name):
        assert (page.rect.width, page.rect.height) == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize("name", [name for name in CASES if name.startswith("work order")])
def test_the_first_page_of_a_work_order_is_used(name: str) -> None:
    """A table too long for the rest of the page starts on it all the same."""
    answer = pages(name)
    if len(answer) > 1:
        lowest = max(box.bottom for box in boxes.text_boxes(answer[0]) if box.bottom <
                     answer[0].rect.height - 45)  # fmt: skip
        assert lowest > 0.6 * answer[0].rect.height


@pytest.mark.parametrize("words", [samples.ACCENTS, samples.CYRILLIC, samples.GREEK])
def test_names_are_printed_in_their_own_letters(words: str) -> None:
    name = {samples.ACCENTS: "accents", samples.CYRILLIC: "Cyrillic", samples.GREEK: "Greek"}[words]
    assert words in pages(f"certificate, {name}")[0].get_text()


def test_every_long_text_is_printed_to_its_end() -> None:
    for name in ("work order, longest texts", "hand-off, longest texts"):
        text = " ".join("".join(page.get_text() for page in pages(name)).split())
        assert text.count("where the old cutter stopped") >= 100


def test_limits_are_printed_on_one_line_with_proper_units() -> None:
    text = pages("hand-off")[0].get_text()
    assert "43.6 to 44.6 cm³" in text
    assert "0.0012 to 0.0024 in" in text


@pytest.mark.parametrize("name", ["collection receipt", "dispatch note", "dispatch note, A4"])
def test_a_usual_collection_takes_one_page(name: str) -> None:
    (page,) = pages(name)
    assert "one bent, scrapped as agreed" in page.get_text()


def test_a_pretty_long_certificate_draws_every_port() -> None:
    text = "".join(page.get_text() for page in pages("certificate, sixteen ports"))
    for port in range(1, 17):
        assert text.count(f"cylinder {port}\n") >= 2
