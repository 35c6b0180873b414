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

import pymupdf
import pypdfium2
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from PIL import Image, ImageChops, ImageDraw, ImageFont, ImageStat
from reportlab.pdfgen.canvas import Canvas

import shopflow
from shopflow import documents, fonts, papers
from shopflow.fonts import direction, files, han
from shopflow.papers.letters import wrong_letters
from tests import programs
from tests.optional import present
from tests.pdf import samples

SIZE = 120
FROM_THE_RIGHT = (samples.HEBREW, samples.ARABIC)
SHAPED = (
    samples.DEVANAGARI, samples.BENGALI, samples.TAMIL, samples.BURMESE, samples.KHMER,
    samples.THAI,
)  # fmt: skip


def drawn(text: str) -> Image.Image:
    """One line as a paper draws it, at a point a pixel."""
    fonts.register()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(SIZE * 8, SIZE * 2))
    fonts.draw(canvas, (20, SIZE / 2), fonts.printable(text), fonts.REGULAR, SIZE)
    canvas.save()
    with pymupdf.open(stream=out.getvalue(), filetype="pdf") as document:
        pixels = document[0].get_pixmap(colorspace=pymupdf.csGRAY)
    return Image.frombytes("L", (pixels.width, pixels.height), pixels.samples)


def by_freetype(text: str, path: Path, index: int = 0) -> Image.Image:
    """One line as Pillow's FreeType draws it, shaped by its own HarfBuzz, ordered by FriBidi."""
    programs.need_library("libfribidi.so.0")
    face = ImageFont.truetype(str(path), SIZE, index=index, layout_engine=ImageFont.Layout.RAQM)
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
    assert unlike(drawn(text), by_freetype(text, files.path(han.FILE), han.FACE)) < 0.12
    assert unlike(drawn("永東国"), by_freetype("実線上", files.path(han.FILE), han.FACE)) > 0.5


@pytest.mark.parametrize(
    ("script", "text"),
    [
        ("Hebrew", "שלום"),
        ("Arabic", "سلام"),
        ("Arabic", "مُحَمَّد"),
        ("Arabic", "ښاغلی"),
        ("Thai", "ที่นี่กำลังดี"),
        ("Lao", "ສະບາຍດີ"),
        ("Devanagari", "क्षत्रिय"),
        ("Bengali", "ইঞ্জিনক্ষ"),
        ("Gurmukhi", "ਪੰਜਾਬੀ"),
        ("Gujarati", "ગુજરાતી"),
        ("Oriya", "ଓଡ଼ିଆ"),
        ("Tamil", "தமிழ்கொ"),
        ("Telugu", "తెలుగు"),
        ("Kannada", "ಕನ್ನಡ"),
        ("Malayalam", "മലയാളം"),
        ("Sinhala", "සිංහල"),
        ("Myanmar", "မြန်မာ"),
        ("Khmer", "ខ្មែរស្រី"),
    ],
)
def test_other_scripts_are_drawn_as_freetype_draws_them(script: str, text: str) -> None:
    """Shaped and drawn by other libraries; letters set one after the other differ by far more."""
    path = files.path(f"NotoSans{script}[wght].ttf")
    assert unlike(drawn(text), by_freetype(text, path)) < 0.12


def drawn_order(line: str) -> str:
    return "".join(item.sign for item in direction.as_drawn(line))


def test_a_number_behind_a_comma_belongs_to_the_paper() -> None:
    """UAX 9 alone would draw the 12 of the street left of the name."""
    assert drawn_order("משה, 12 Weir Lane") == "השמ, 12 Weir Lane"
    assert drawn_order("משה 12") == "12 השמ"


def test_brackets_within_right_to_left_text_are_mirrored() -> None:
    """UAX 9, rule L4: an opening bracket read from the right is drawn as a closing one."""
    assert drawn_order("שלום (עולם) כאן") == "ןאכ (םלוע) םולש"
    assert drawn_order("א (ב") == "ב) א"
    assert drawn_order("head (שלום)") == "head (םולש)"


def test_brackets_at_the_end_of_right_to_left_text_stay_a_pair() -> None:
    """UAX 9, rule N0: both brackets of a pair take the direction of what they hold."""
    assert drawn_order("שלום (עולם)") == "(םלוע) םולש"
    assert drawn_order("שלום (עולם) ABC") == "(םלוע) םולש ABC"
    assert drawn_order("שלום [עולם (א)]") == "[(א) םלוע] םולש"
    assert drawn_order("שלום (12)") == "(12) םולש"
    assert drawn_order("שלום (abc)") == "םולש (abc)"
    assert drawn_order("head (שלום), 12") == "head (םולש), 12"
    assert drawn_order("שלום (ב]") == "ב) םולש]"


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


@pytest.mark.slow
def test_every_constant_text_of_the_papers_is_drawn_by_the_faces() -> None:
    for name in fonts.FILES:
        face = fonts.family(name)
        boxes = {
            where: missing
            for where, text in constant_texts()
            if (missing := [sign for sign in text if not face.has(sign)])
        }
        assert boxes == {}, name


def test_letters_that_no_face_has_are_told_wherever_they_stand() -> None:
    paper = samples.certificate(
        [samples.session(stage=f"after {samples.TIBETAN}")],
        customer=documents.Party("Oslund", address=samples.TIBETAN),
        head=samples.head(condition="ᨕᨘᨁᨗ"),
        opinions=("Plain words.", samples.DEVANAGARI),
    )
    wrong = {item.text for item in wrong_letters(paper)}
    assert {samples.TIBETAN, f"after {samples.TIBETAN}", "ᨕᨘᨁᨗ"} <= wrong
    assert not any("Plain" in text or samples.DEVANAGARI in text for text in wrong)
    assert wrong_letters(samples.certificate([samples.session()])) == []


def test_a_tone_over_a_vowel_stands_clear_above_it() -> None:
    inked = (drawn(text).point(lambda value: 255 - value) for text in ("กี", "กี่"))
    vowel, both = (present(picture.getbbox()) for picture in inked)
    assert both[1] < vowel[1] - 8
    assert both[3] == vowel[3]


@pytest.mark.parametrize("name", FROM_THE_RIGHT)
def test_a_name_from_right_to_left_can_be_read_back_from_the_paper(name: str) -> None:
    """Each word: readers order the words of a line from right to left in different ways."""
    content = papers.flow_certificate(
        samples.certificate([samples.session()], customer=documents.Party(name))
    )
    with pymupdf.open(stream=content, filetype="pdf") as document:
        by_mupdf = unicodedata.normalize("NFKC", document[0].get_text())
    by_pdfium = pypdfium2.PdfDocument(content)[0].get_textpage().get_text_range()
    for word in name.split():
        assert word in by_mupdf
        assert word in unicodedata.normalize("NFKC", by_pdfium)
    assert fonts.lacking(name) == ""


@pytest.mark.parametrize("name", [samples.CJK, samples.CHINESE, *SHAPED])
def test_a_name_can_be_read_back_from_the_paper(name: str) -> None:
    content = papers.flow_certificate(
        samples.certificate([samples.session()], customer=documents.Party(name))
    )
    with pymupdf.open(stream=content, filetype="pdf") as document:
        assert name in document[0].get_text()
    by_pdfium = pypdfium2.PdfDocument(content)[0].get_textpage().get_text_range()
    assert name in by_pdfium
    assert fonts.lacking(name) == ""


def test_what_no_face_has_is_told() -> None:
    assert fonts.lacking(f"Oslund {samples.TIBETAN} Oslund") == "བོད་ཡིག"
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
    "print(fonts.lacking('ᨕᨁ'), fonts.width('ᨕᨁ', 10) > 5, fonts.unshaped('ᨕᨁ'))"
)


def shown_with(typefaces: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env={**os.environ, "SHOPFLOW_TYPEFACES": typefaces, "PYTHONUTF8": "1"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def made_typeface(path: Path) -> Path:
    """A file with squares for two letters of Buginese, and no rules for how they join."""
    pen = TTGlyphPen(None)
    pen.moveTo((0, 0))
    for corner in ((0, 700), (600, 700), (600, 0)):
        pen.lineTo(corner)
    pen.closePath()
    names = [".notdef", "ka", "nga"]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({0x1A15: "ka", 0x1A01: "nga"})
    builder.setupGlyf(dict.fromkeys(names, pen.glyph()))
    builder.setupHorizontalMetrics(dict.fromkeys(names, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Made", "styleName": "Regular", "psName": "Made"})
    builder.setupOS2()
    builder.setupPost()
    builder.save(path)
    return path


def test_a_shop_can_name_a_typeface_of_its_own(tmp_path: Path) -> None:
    assert shown_with("").stdout.split() == ["ᨕᨁ", "True"]
    # The face draws them, but has no rules for joining them: that is told too.
    file = made_typeface(tmp_path / "made.ttf")
    assert shown_with(str(file)).stdout.split() == ["True", "ᨕᨁ"]


def test_a_file_that_is_no_truetype_is_refused() -> None:
    answer = shown_with(str(files.path(han.FILE)))
    assert answer.returncode == 1
    assert "cannot be used as a typeface" in answer.stderr
