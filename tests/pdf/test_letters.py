"""Names in other letters than Latin: read back from the paper, and drawn as FreeType draws them."""

from __future__ import annotations

import ast
import io
import os
import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import manimgx_fonts
import pymupdf
import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFont, ImageStat
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

import shopflow
from shopflow import documents, fonts, papers
from shopflow.fonts import faces, han
from shopflow.papers.letters import wrong_letters
from tests.pdf import samples

SIZE = 120
NAMES = (samples.CJK, samples.CHINESE, samples.HEBREW, samples.ARABIC, samples.THAI)


def first_page(customer: str) -> pymupdf.Page:
    content = papers.flow_certificate(
        samples.certificate([samples.session()], customer=documents.Party(customer))
    )
    return pymupdf.open(stream=content, filetype="pdf")[0]


def drawn(text: str) -> Image.Image:
    """One line as a paper draws it, at a point a pixel."""
    fonts.register()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(SIZE * 8, SIZE * 2), initialFontName=fonts.REGULAR)
    canvas.setFont(fonts.REGULAR, SIZE)
    canvas.drawString(20, SIZE / 2, fonts.drawable(text))
    canvas.save()
    with pymupdf.open(stream=out.getvalue(), filetype="pdf") as document:
        pixels = document[0].get_pixmap(colorspace=pymupdf.csGRAY)
    return Image.frombytes("L", (pixels.width, pixels.height), pixels.samples)


def by_freetype(text: str, path: Path, index: int = 0, **settings: object) -> Image.Image:
    """One line as Pillow's FreeType draws it from the typeface's own file."""
    face = ImageFont.truetype(str(path), SIZE, index=index, layout_engine=ImageFont.Layout.BASIC)
    face.set_variation_by_axes([400])
    image = Image.new("L", (SIZE * 8, SIZE * 2), 255)
    ImageDraw.Draw(image).text((20, SIZE * 1.5), text, font=face, fill=0, anchor="ls")
    return image


def unlike(one: Image.Image, other: Image.Image) -> float:
    """The ink in which two pictures differ, as part of the ink of the second."""
    differing = ImageStat.Stat(ImageChops.difference(one, other)).sum[0]
    return float(differing / ImageStat.Stat(ImageChops.invert(other)).sum[0])


@pytest.mark.parametrize("text", ["永東国", "실린더", "カムシャフト"])
def test_han_letters_are_drawn_as_freetype_draws_them(text: str) -> None:
    """Edges differ by the two renderers' smoothing; other letters by half their ink."""
    assert unlike(drawn(text), by_freetype(text, han.FILE, han.FACE)) < 0.12
    assert unlike(drawn("永東国"), by_freetype("実線上", han.FILE, han.FACE)) > 0.5


@pytest.mark.parametrize(
    ("script", "text", "shown"),
    [
        # Hebrew as read, and its letters from left to right as they stand on paper.
        ("Hebrew", "שלום", "םולש"),
        # Arabic: seen, lam with alef, meem; presentation forms of the Unicode code chart.
        ("Arabic", "سلام", "\ufee1\ufefc\ufeb3"),
        ("Thai", "กขค", "กขค"),
    ],
)
def test_other_scripts_are_drawn_as_freetype_draws_them(script: str, text: str, shown: str) -> None:
    path = faces.FOLDER / f"NotoSans{script}[wght].ttf"
    assert unlike(drawn(text), by_freetype(shown, path)) < 0.12


def test_a_number_behind_a_comma_belongs_to_the_paper() -> None:
    """UAX 9 alone would draw the 12 of the street left of the name."""
    assert fonts.as_drawn("משה, 12 Weir Lane") == "השמ, 12 Weir Lane"
    assert fonts.as_drawn("משה 12") == "12 השמ"


def test_brackets_within_right_to_left_text_are_mirrored() -> None:
    """UAX 9, rule L4: an opening bracket read from the right is drawn as a closing one."""
    assert fonts.as_drawn("שלום (עולם) כאן") == "ןאכ (םלוע) םולש"
    assert fonts.as_drawn("א (ב") == "ב) א"
    assert fonts.as_drawn("head (שלום)") == "head (םולש)"


def test_brackets_at_the_end_of_right_to_left_text_stay_a_pair() -> None:
    """UAX 9, rule N0: both brackets of a pair take the direction of what they hold."""
    assert fonts.as_drawn("שלום (עולם)") == "(םלוע) םולש"
    assert fonts.as_drawn("שלום (עולם) ABC") == "(םלוע) םולש ABC"
    assert fonts.as_drawn("שלום [עולם (א)]") == "[(א) םלוע] םולש"
    assert fonts.as_drawn("שלום (12)") == "(12) םולש"
    assert fonts.as_drawn("שלום (abc)") == "םולש (abc)"
    assert fonts.as_drawn("head (שלום), 12") == "head (םולש), 12"
    assert fonts.as_drawn("שלום (ב]") == "ב) םולש]"


def constant_texts() -> Iterator[tuple[str, str]]:
    """Every text written in the code that papers, or what fills them, could print.

    Workings are shown on screens alone.
    """
    root = Path(shopflow.__file__).parent
    for path in sorted(root.rglob("*.py")):
        if {"fonts", "web", "cli", "workings"} & set(path.relative_to(root).parts):
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                where = f"{path.relative_to(root)}:{node.lineno}"
                yield where, "".join(fonts.printable(node.value).split())


def test_every_constant_text_of_the_papers_is_drawn_by_the_faces() -> None:
    fonts.register()
    for name in fonts.FILES:
        face = pdfmetrics.getFont(name)
        boxes = {
            where: missing
            for where, text in constant_texts()
            if (missing := [sign for sign in text if not face.has(sign)])
        }
        assert boxes == {}, name


def test_letters_that_need_shaping_are_told_wherever_they_stand() -> None:
    paper = samples.certificate(
        [samples.session(stage=f"after {samples.DEVANAGARI}")],
        customer=documents.Party("Oslund", address=samples.DEVANAGARI),
        head=samples.head(condition="ಹೆಡ್"),
        opinions=("Plain words.", "ကောင်း"),
    )
    wrong = {item.text for item in wrong_letters(paper)}
    assert {samples.DEVANAGARI, f"after {samples.DEVANAGARI}", "ಹೆಡ್", "ကောင်း"} <= wrong
    assert not any("Plain" in text for text in wrong)
    assert wrong_letters(samples.certificate([samples.session()])) == []


def test_a_tone_over_a_vowel_stands_clear_above_it() -> None:
    vowel, both = (drawn(text).point(lambda value: 255 - value) for text in ("กี", "กี่"))
    assert both.getbbox()[1] < vowel.getbbox()[1] - 8
    assert both.getbbox()[3] == vowel.getbbox()[3]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_can_be_read_back_from_the_paper(name: str) -> None:
    """Copied text has the letters, whichever way the reader orders those of Arabic and Hebrew."""
    text = unicodedata.normalize("NFKC", first_page(name).get_text())
    said = unicodedata.normalize("NFKC", name)
    missing = {sign for sign in said if not sign.isspace() and sign not in text}
    assert missing == set()
    assert fonts.lacking(name) == ""


def test_chinese_is_read_back_in_order() -> None:
    assert samples.CHINESE in first_page(samples.CHINESE).get_text()


def test_what_no_face_has_is_told() -> None:
    assert fonts.lacking(f"Oslund {samples.DEVANAGARI} Oslund") == "नमस्ते"
    assert fonts.lacking(f"{samples.ACCENTS} {samples.CYRILLIC} {samples.GREEK}") == ""


def test_a_long_text_from_right_to_left_begins_on_its_first_line() -> None:
    words = [f"{number} שלום" for number in range(100, 160)]
    page = samples.order_page(head=samples.head(condition=" ".join(words)))
    content = papers.work_order(samples.work_order([page]))
    text = "".join(page.get_text() for page in pymupdf.open(stream=content, filetype="pdf"))
    places = [text.index(str(number)) for number in (100, 120, 140, 159)]
    assert places == sorted(places)


PROGRAM = (
    "from shopflow import fonts; "
    "print(fonts.lacking('नम'), fonts.width('नम', 10) > 5, fonts.unshaped('नम'))"
)


def shown_with(typefaces: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env={**os.environ, "SHOPFLOW_TYPEFACES": typefaces, "PYTHONUTF8": "1"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_a_shop_can_name_a_typeface_of_its_own() -> None:
    file = Path(manimgx_fonts.__file__).parent / "NotoSansDevanagari[wght].ttf"
    assert shown_with("").stdout.split() == ["नम", "True"]
    # The face draws them, but apart: that is told too.
    assert shown_with(str(file)).stdout.split() == ["True", "नम"]


def test_a_file_that_is_no_truetype_is_refused() -> None:
    found = shown_with(str(han.FILE))
    assert found.returncode == 1
    assert "cannot be used as a typeface" in found.stderr
