"""Papers beyond what a shop will print: a cell longer than a page, pictures, odd characters."""

from __future__ import annotations

import dataclasses
import io
import re
from collections.abc import Callable, Iterator

import pikepdf
import pymupdf
import pytest
from PIL import Image

from shopflow import documents as data
from shopflow.papers import flow_certificate, hand_off, work_order
from shopflow.papers.sheet import MARGIN
from tests.pdf import boxes
from tests.pdf import samples as s

LONG = "Longwinded & Daughters, Unabridged-and-Unhyphenated " * 5
UNBROKEN = "X" * 150
TAG = "T" * 50
STORY = s.WORDS * 70 + "And so it ends."
"""Some six thousand characters: more than a page, in one cell."""

CODE = "https://shop.test/verify/FC-2026-0007"


def picture(width: int, height: int, kind: str = "JPEG") -> bytes:
    """A grey picture."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#9a9a9a").save(out, kind)
    return out.getvalue()


PHOTOS = (
    data.Photo("Exhaust seat 3, as received", picture(640, 480)),
    data.Photo("Deck", picture(300, 900, "PNG")),
    data.Photo(s.WORDS, picture(1200, 200)),
    data.Photo("Lost", b"not a picture"),
)


def long_certificate() -> bytes:
    """Every text of a certificate longer than its room."""
    first = dataclasses.replace(s.result(s.session(stage=s.WORDS * 3, notes=STORY)), file_name="")
    second = dataclasses.replace(
        s.result(s.session(lifts=1)),
        excluded=(data.Excluded("0.2 in", "101.5 cfm", STORY),),
        warnings=(STORY,),
        opinions=(s.WORDS,),
        calibration=STORY,
        calibration_overdue=True,
    )
    certificate = s.certificate(
        [],
        sessions=(first, second),
        customer=data.Party(LONG, f"{LONG}\n{LONG}"),
        head=s.head(condition=STORY, engine_type=LONG, serial=UNBROKEN, tag=TAG),
        shop=s.shop(LONG),
        job=s.job(purpose=LONG, fuel=LONG),
        revision=3,
        revision_reason=STORY,
        issued_by=LONG,
        url=CODE,
    )
    return flow_certificate(certificate)


def wide_certificate() -> bytes:
    """Sixteen ports, each before and after, one of them at forty lifts."""
    documents = [
        s.session(side, str(cylinder), stage, 40 if cylinder == 1 else 9, scale * gain)
        for side, scale in (("intake", 1.0), ("exhaust", 0.8))
        for cylinder in range(1, 9)
        for stage, gain in (("as received", 1 - cylinder / 90), ("after port work", 1.07))
    ]
    gains = tuple(map(s.gain, documents[::2], documents[1::2]))
    return flow_certificate(s.certificate(documents, gains, s.SIZES["A4"], url=CODE))


def odd_certificate() -> bytes:
    """Control characters, markup, loose accents, and scripts the typeface has no letters for."""
    customer = data.Party(f"{s.CJK} محمد \x00\x0b Zoe\u0308 & <b>Sons</b>")
    return flow_certificate(s.certificate([s.session(stage="<para>&nbsp;")], customer=customer))


def long_work_order() -> bytes:
    """Every text of a work order longer than its room; not approved, with pictures."""
    page = s.order_page(
        steps=s.steps(5, STORY),
        cautions=("springs", s.WORDS * 20),
        head=s.head(condition=STORY, tag=TAG, engine_type=LONG, serial=UNBROKEN),
        photos=PHOTOS,
    )
    job = s.job(asked_for=STORY, approval="", purpose=LONG)
    return work_order(s.work_order([page], s.SIZES["A4"], job=job, shop=s.shop(LONG)))


def long_hand_off() -> bytes:
    """Every text of a hand-off sheet longer than its room."""
    figures = tuple(
        data.Figure(f"Figure {place}, {s.WORDS}", "9" * 90, s.WORDS * 40) for place in range(3)
    )
    note = s.hand_off(
        s.SIZES["A4"],
        valves=(data.ValveFigures("intake", figures), data.ValveFigures("exhaust", figures)),
        figures=figures,
        addressee=LONG,
        to_check=(STORY,),
        cautions=(STORY,),
        notes=STORY,
        head=s.head(tag=TAG, serial=UNBROKEN),
        shop=s.shop(LONG),
        signed_by=LONG,
    )
    return hand_off(note)


MAKERS: dict[str, Callable[[], bytes]] = {
    "long certificate": long_certificate,
    "wide certificate": wide_certificate,
    "odd certificate": odd_certificate,
    "long work order": long_work_order,
    "long hand-off": long_hand_off,
    "no heads": lambda: work_order(s.work_order([])),
}


@pytest.fixture(scope="module", params=MAKERS, ids=str)
def content(request: pytest.FixtureRequest) -> bytes:
    """Each paper in turn."""
    return MAKERS[request.param]()


@pytest.fixture(scope="module")
def pdf(content: bytes) -> Iterator[pymupdf.Document]:
    """The paper, opened."""
    pymupdf.TOOLS.reset_mupdf_warnings()
    with pymupdf.open(stream=content) as document:
        yield document


@pytest.mark.slow
def test_nothing_is_cut_covered_or_off_the_page(pdf: pymupdf.Document) -> None:
    for page in pdf:
        assert boxes.overlaps(page) == []
        assert boxes.crossed(page) == []
        assert boxes.covered(page) == []
        assert boxes.strays(page, MARGIN) == []
        assert boxes.outside(page) == []


def test_every_page_is_used_and_none_is_black(pdf: pymupdf.Document) -> None:
    for page in pdf:
        middle = [box for box in boxes.text_boxes(page) if 80 < box.top < page.rect.height - 50]
        assert middle
        assert 0.01 < boxes.ink(page) < 0.35


def test_the_file_is_sound_and_holds_its_typeface(content: bytes, pdf: pymupdf.Document) -> None:
    with pikepdf.open(io.BytesIO(content)) as checked:
        assert checked.check_pdf_syntax() == []
    assert not pdf.is_repaired
    fonts = {font[1:4] for page in pdf for font in page.get_fonts()}
    assert all(
        kind == "ttf" and re.search(r"\+(SourceSansPro|NotoSans)", name) for kind, _, name in fonts
    )
    assert pymupdf.TOOLS.mupdf_warnings() == ""


def words_of(content: bytes) -> str:
    """A paper's words, on one line."""
    with pymupdf.open(stream=content) as document:
        return " ".join(" ".join(page.get_text() for page in document).split())


@pytest.mark.parametrize(
    ("make", "endings"), [(long_certificate, 6), (long_work_order, 7), (long_hand_off, 3)]
)
def test_a_text_longer_than_a_page_is_printed_to_its_end(
    make: Callable[[], bytes], endings: int
) -> None:
    assert words_of(make()).count("And so it ends.") == endings


def test_text_is_never_taken_for_markup_and_loose_accents_are_joined() -> None:
    words = words_of(odd_certificate())
    assert "Zoë & <b>Sons</b>" in words
    assert "<para>&nbsp;" in words


def test_pictures_are_printed_with_what_they_show_and_a_bad_one_is_said_to_be_bad() -> None:
    content = work_order(s.work_order([s.order_page(photos=PHOTOS)]))
    with pymupdf.open(stream=content) as document:
        places = [
            place
            for page in document
            for image in page.get_images()
            for place in page.get_image_rects(image[0])
        ]
    # Each picture keeps its shape.
    shapes = sorted(round(place.width / place.height, 2) for place in places)
    assert shapes == pytest.approx([300 / 900, 640 / 480, 1200 / 200], abs=0.02)
    words = words_of(content)
    for text in ("Exhaust seat 3, as received", "Deck", "This picture cannot be read. Lost"):
        assert text in words


def test_session_files_of_one_name_are_all_attached() -> None:
    sessions = [s.result(s.session(stage=stage)) for stage in ("one", "two", "three")]
    sessions[2] = dataclasses.replace(sessions[2], file_name="")
    content = flow_certificate(s.certificate([], sessions=tuple(sessions)))
    with pikepdf.open(io.BytesIO(content)) as pdf:
        rows = [
            spec.get_file().read_bytes().decode()
            for name, spec in pdf.attachments.items()
            if name.endswith(".toml")
        ]
    assert sorted(rows) == sorted(session.file_text for session in sessions)
