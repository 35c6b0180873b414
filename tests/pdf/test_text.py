"""Text on paper is broken and set as reportlab's own paragraphs are, which read markup."""

from __future__ import annotations

import io
from time import process_time
from typing import Any
from xml.sax.saxutils import escape

import pymupdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from shopflow import fonts
from shopflow.papers.style import BULLET, CELL, CENTRED, COLUMN_RIGHT
from shopflow.papers.text import Text

ALIGNED = {
    alignment: ParagraphStyle("aligned", CELL, alignment=alignment)
    for alignment in (0, TA_CENTER, TA_RIGHT)
}
WORDS = st.text("aeimnrsty<&;.-§°é", min_size=1, max_size=60)
LINES = st.lists(WORDS, min_size=1, max_size=40).map(" ".join)
TEXTS = st.lists(LINES, min_size=1, max_size=4).map("\n".join)
FACE: dict[str, Any] = {"initialFontName": fonts.REGULAR}
FULL = "No blowing down with air: old heads may carry lead, and bead dust harms the lungs. "


def paragraph(text: str, style: ParagraphStyle, **settings: Any) -> Paragraph:
    """The same text by reportlab, a word wider than the column broken."""
    fonts.register()
    broken = ParagraphStyle("broken", style, splitLongWords=1)
    return Paragraph(escape(text).replace("\n", "<br/>"), broken, **settings)


def pages(*pieces: Flowable) -> list[Any]:
    """Each word of each piece with its place, a page each."""
    out = io.BytesIO()
    canvas = Canvas(out, (400, 800), **FACE)
    for piece in pieces:
        _, height = piece.wrap(150, 700)
        piece.drawOn(canvas, 20, 790 - height)
        canvas.showPage()
    canvas.save()
    with pymupdf.open(stream=out.getvalue()) as pdf:
        return [
            [(word[4], *(round(place, 2) for place in word[:4])) for word in page.get_text("words")]
            for page in pdf
        ]


@given(TEXTS, st.sampled_from(sorted(ALIGNED)))
@settings(max_examples=20)
def test_every_word_stands_where_a_paragraph_has_it(text: str, alignment: int) -> None:
    style = ALIGNED[alignment]
    mine, theirs = pages(Text(text, style), paragraph(text, style))
    assert mine == theirs


@pytest.mark.parametrize("style", [CELL, CENTRED, COLUMN_RIGHT], ids=lambda style: style.name)
def test_spaces_shrink_a_little_before_a_word_goes_to_the_next_line(style: ParagraphStyle) -> None:
    mine, theirs = pages(Text(FULL * 9, style), paragraph(FULL * 9, style))
    assert mine == theirs


@pytest.mark.parametrize("bullet", ["•", "☐"])
def test_a_bullet_stands_before_the_first_line(bullet: str) -> None:
    mine, theirs = pages(
        Text(FULL * 3, BULLET, bullet), paragraph(FULL * 3, BULLET, bulletText=bullet)
    )
    assert mine == theirs


# Where it parts a text at a line break, reportlab leaves an empty line above the rest.
@given(LINES, st.floats(1.0, 300.0))
@settings(max_examples=20)
def test_it_is_parted_between_pages_as_a_paragraph_is(text: str, room: float) -> None:
    mine, theirs = Text(text, CELL), paragraph(text, CELL)
    for piece in (mine, theirs):
        piece.wrap(150, room)
    parts, wanted = mine.split(150, room), theirs.split(150, room)
    assert [part.wrap(150, 700) for part in parts] == [part.wrap(150, 700) for part in wanted]
    assert pages(*parts) == pages(*wanted)


@pytest.mark.parametrize("text", ["", " ", "\n", " \n "])
def test_nothing_takes_up_no_room(text: str) -> None:
    assert Text(text, CELL).wrap(150, 700) == (150, 0)


def test_a_word_of_pages_is_laid_without_going_through_its_rest_at_every_line() -> None:
    # As much as a field takes; Han letters have no spaces, and a line holds some twenty.
    word = "x" * 20_000
    mine, theirs = Text(word, CELL), paragraph(word, CELL)
    spent = []
    for piece in (theirs, mine):
        begun = process_time()
        piece.wrap(100, 700)
        spent.append(process_time() - begun)
    assert mine.height == theirs.height
    # Six times reportlab's own; it was 165 times while each line measured all the rest.
    assert spent[1] < 40 * spent[0]
