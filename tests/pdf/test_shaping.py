"""Letters that depend on their neighbours: the glyphs that draw them, by what the Unicode Standard
says of each script, and by HarfBuzz asked about the same file without this program.
"""

from __future__ import annotations

import pytest
import uharfbuzz
from fontTools.ttLib import TTFont

from shopflow import fonts
from shopflow.fonts import files
from shopflow.fonts.shaping import Run, shaped

LINES = {
    "Devanagari": "क्षत्रिय",
    "Bengali": "ইঞ্জিন",
    "Tamil": "தமிழ்கொ",
    "Myanmar": "မြန်မာ",
    "Khmer": "ភាសាខ្មែរ",
    "Thai": "ที่นี่",
    "Malayalam": "മലയാളം",
}


def runs(line: str, face: str = fonts.REGULAR) -> list[Run]:
    return list(fonts.family(face).runs(fonts.printable(line)))


def glyphs(line: str, face: str = fonts.REGULAR) -> list[int]:
    """The numbers of the glyphs in the file that draw a line of one script."""
    (run,) = runs(line, face)
    assert run.face is not None
    letters = run.face.face.charToGlyph
    parts = shaped(run.face, run.text, run.leftwards).parts
    return [letters[ord(glyph.code)] for part in parts for glyph in part.glyphs]


def names(line: str, script: str) -> list[str]:
    order = TTFont(files.path(f"NotoSans{script}[wght].ttf"), lazy=True).getGlyphOrder()
    return [order[glyph] for glyph in glyphs(line)]


@pytest.mark.source("HarfBuzz by uharfbuzz, asked about the file itself")
@pytest.mark.parametrize("script", LINES)
@pytest.mark.parametrize("face", [fonts.REGULAR, fonts.BOLD])
def test_glyphs_and_widths_are_those_of_harfbuzz(script: str, face: str) -> None:
    content = files.path(f"NotoSans{script}[wght].ttf").read_bytes()
    font = uharfbuzz.Font(uharfbuzz.Face(content))
    font.set_variations({"wght": 600 if face == fonts.BOLD else 400})
    buffer = uharfbuzz.Buffer()
    buffer.add_str(LINES[script])
    buffer.guess_segment_properties()
    uharfbuzz.shape(font, buffer)
    assert glyphs(LINES[script], face) == [info.codepoint for info in buffer.glyph_infos]
    wide = sum(position.x_advance for position in buffer.glyph_positions)
    assert fonts.width(LINES[script], 1000, face) == pytest.approx(wide, abs=3)


@pytest.mark.source("The Unicode Standard 16, chapters 12 and 16")
def test_letters_build_syllables() -> None:
    # Ka, virama and ssa make one shape, as do those of Bengali.
    assert len(glyphs("क्ष")) == len(glyphs("ক্ষ")) == 1
    # The vowel sign i of Devanagari and e of Bengali stand before the consonant they follow.
    assert names("कि", "Devanagari")[1] == "uni0915"
    assert names("কে", "Bengali")[1] == "uni0995"
    # The vowel sign o of Tamil stands on both sides of its consonant.
    assert names("கொ", "Tamil") == ["uni0BC6", "uni0B95", "uni0BBE"]
    # Ra without its vowel goes above the consonant that follows it.
    assert names("र्क", "Devanagari")[0] == "uni0915"
    # In Khmer the vowel stands first, and coeng with mo below kha: one shape.
    assert names("ខ្មែ", "Khmer")[:2] == ["uni17C2", "uni1781"]
    assert len(glyphs("ខ្មែ")) == 3
    # In Burmese e and the medial ra stand before their consonant.
    assert names("ကေ", "Myanmar")[1] == names("ကြ", "Myanmar")[1] == "ka"


@pytest.mark.source("The Unicode Standard 16, code chart Arabic Presentation Forms-B")
def test_arabic_letters_join_and_lines_stand_from_right_to_left() -> None:
    # Beh, from left to right its final, medial and initial form; lam with alef in one.
    assert names("ببب", "Arabic") == ["uniFE90", "uniFE92", "uniFE91"]
    assert names("لا", "Arabic") == ["uniFEFB"]


@pytest.mark.source("The Unicode Standard 16, chapter 23.2: the zero-width non-joiner")
def test_a_non_joiner_parts_letters_and_draws_nothing() -> None:
    assert names("ب\u200cب", "Arabic") == ["uni0628", "uni0628"]
    assert fonts.printable("a\u200cb") == "ab"
    assert len(glyphs("क्\u200cष")) > len(glyphs("क्ष"))


@pytest.mark.source("UAX 9, revision 49")
def test_words_and_brackets_of_a_line_from_right_to_left_stand_in_drawn_order() -> None:
    drawn = [(run.text, run.face is None) for run in runs("محمد (علي) 12 mm")]
    assert drawn == [
        ("12 (", True), ("علي", False), (") ", True), ("محمد", False), (" mm", True),
    ]  # fmt: skip


def test_a_line_of_latin_is_not_shaped() -> None:
    before = shaped.cache_info()
    assert fonts.width("Oslund's №2 – Αθήνα, Тверь", 10) > 0
    after = shaped.cache_info()
    assert (before.hits, before.misses) == (after.hits, after.misses)


def test_a_word_is_broken_between_syllables() -> None:
    syllables = fonts.family(fonts.REGULAR).syllables("क्षत्रियx")
    assert list(syllables) == ["क्ष", "त्रि", "य", "x"]


def test_the_same_text_gives_the_same_glyph_codes_whatever_came_before() -> None:
    (run,) = runs("ខ្មែ")
    first = [part.glyphs for part in shaped(run.face, run.text, False).parts]
    shaped.cache_clear()
    glyphs("ភាសាស្រី")
    assert [part.glyphs for part in shaped(run.face, run.text, False).parts] == first
