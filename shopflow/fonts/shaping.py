"""Letters that depend on their neighbours: which glyphs draw them, and where, by HarfBuzz.

A line is cut into runs, each in one face and one direction, and a run is shaped whole: Arabic
letters join, those of India build syllables, tones of Thai stand above its vowels.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from functools import cache, lru_cache
from itertools import groupby, pairwise
from typing import Any, NamedTuple

import uharfbuzz

from shopflow.fonts.direction import Drawn, as_drawn, runs_leftwards
from shopflow.fonts.scripts import JOINERS, needs_shaping

Face = Any
"""A TTFont of reportlab, whose stubs leave out what is needed here."""

PRIVATE = 0xE000
"""The first of the characters that stand for glyphs: by their number, so that the same text gives
the same bytes whatever was drawn before it."""


_FORMED = frozenset(
    sign
    for form in map(chr, (*range(0xFB50, 0xFDFE), *range(0xFE70, 0xFEFD)))
    for sign in unicodedata.normalize("NFKC", form)
    if sign.isalpha()
) | frozenset(JOINERS + "אבגדהוזחטיךכלםמןנסעףפץצקרשת")
"""Letters of Arabic that have presentation forms, not some of Kurdish and Pashto; and of Hebrew."""


class Run(NamedTuple):
    """A part of a line in one face and direction."""

    face: Face | None
    """The face to shape it in; None for what is set letter by letter."""

    text: str
    """As it is read; as it is drawn where there is no face."""

    leftwards: bool


class Glyph(NamedTuple):
    """A glyph where it is drawn, in thousandths of the type's size."""

    code: str
    """The character that stands for it in its face."""

    width: float
    """Width by the face itself."""

    advance: float
    """Width in this line."""

    aside: float
    above: float


class Part(NamedTuple):
    """Glyphs that are read together."""

    text: str
    """The letters, as they are read."""

    glyphs: tuple[Glyph, ...]
    is_letter: bool
    """True where it is the glyph of a letter, which states its own reading."""


class Shaped(NamedTuple):
    """The glyphs of a run from left to right."""

    parts: tuple[Part, ...]
    advance: float
    """Width in thousandths of the type's size."""

    syllables: tuple[str, ...]
    """The text, parted wherever a line may end in need."""


def runs(line: str, face_of: Callable[[str], Face | None]) -> Iterator[Run]:
    """The parts of a line in drawn order; `face_of` gives the face that shapes a letter."""
    faces = _faces(line, face_of)

    def of_run(item: Drawn) -> tuple[Face | None, bool]:
        face = faces[item.place]
        return face, item.leftwards and face is not None

    for (face, leftwards), items in groupby(as_drawn(line), of_run):
        letters = list(items)
        if face is None:
            yield Run(None, "".join(item.sign for item in letters), leftwards)
        else:
            read = reversed(letters) if leftwards else letters
            yield Run(face, "".join(line[item.place] for item in read), leftwards)


def pieces(line: str, face_of: Callable[[str], Face | None]) -> Iterator[tuple[Face | None, str]]:
    """The parts of a line by their faces, as they are read: enough to measure it."""
    placed = zip(_faces(line, face_of), line, strict=True)
    for face, items in groupby(placed, lambda pair: pair[0]):
        yield face, "".join(sign for _, sign in items)


def syllables(word: str, face_of: Callable[[str], Face | None]) -> Iterator[str]:
    """The least parts of a word that can stand on different lines, as they are read."""
    for face, text in pieces(word, face_of):
        yield from text if face is None else shaped(face, text, runs_leftwards(text)).syllables


def _faces(line: str, face_of: Callable[[str], Face | None]) -> list[Face | None]:
    """The face of each letter; marks and joiners stay in that of the letter before."""
    faces: list[Face | None] = []
    for sign in line:
        if needs_shaping(sign):
            faces.append(face_of(sign))
            continue
        before = faces[-1] if faces else None
        belongs = sign in JOINERS or unicodedata.category(sign).startswith("M")
        is_covered = before is not None and belongs and ord(sign) in before.face.charToGlyph
        faces.append(before if is_covered else None)
    return faces


@lru_cache(maxsize=4096)
def shaped(face: Face, text: str, leftwards: bool) -> Shaped:
    """The glyphs that draw a run of one script."""
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.direction = "rtl" if leftwards else "ltr"
    # Without it the server's locale would choose among a letter's forms.
    buffer.language = "und"
    buffer.guess_segment_properties()
    buffer.flags = uharfbuzz.BufferFlags.REMOVE_DEFAULT_IGNORABLES
    by_forms = leftwards and _FORMED.issuperset(text)
    uharfbuzz.shape(uharfbuzz.Font(_without_rules(face) if by_forms else face.hbFace), buffer)
    positioned = list(zip(buffer.glyph_infos, buffer.glyph_positions, strict=True))
    starts = sorted({0} | {info.cluster for info, _ in positioned})
    ends = dict(pairwise([*starts, len(text)]))
    if leftwards:
        clusters = groupby(positioned, lambda glyph: glyph[0].cluster)
        parts = [_part(face, text[at : ends[at]], list(glyphs)) for at, glyphs in clusters]
    else:
        parts = [_part(face, text, positioned)]
    advance = sum(face.pdfScale(position.x_advance) for _, position in positioned)
    return Shaped(tuple(parts), advance, tuple(text[at : ends[at]] for at in starts))


def has_rules(face: Face, sign: str) -> bool:
    """Tell whether a face says how letters of a character's script join."""
    buffer = uharfbuzz.Buffer()
    buffer.add_str(sign)
    buffer.guess_segment_properties()
    tags = uharfbuzz.ot_layout_table_get_script_tags(face.hbFace, "GSUB")
    return buffer.script in {uharfbuzz.ot_tag_to_script(tag) for tag in tags}


@cache
def _without_rules(face: Face) -> uharfbuzz.Face:
    """A face that joins letters by the forms that Unicode has for them, not by its own rules.

    These draw a letter in parts, its dots apart. Readers of a PDF put lines from right to left in
    order by the letters of single glyphs, and take spans that say what is read for drawn order.
    """
    # Under another name in the file's list of tables, in the same order, they are not found.
    content = face.face._ttf_data.replace(b"GSUB", b"GSU ", 1)
    return uharfbuzz.Face(uharfbuzz.Blob(content))


def _part(face: Face, text: str, positioned: list[Any]) -> Part:
    numbers = [info.codepoint for info, _ in positioned]
    letter = _letter(face, numbers[0], text) if len(numbers) == 1 else ""
    codes = letter or [_private(face, number) for number in numbers]
    glyphs = (_glyph(face, code, at) for code, (_, at) in zip(codes, positioned, strict=True))
    return Part(text, tuple(glyphs), bool(letter))


def _glyph(face: Face, code: str, position: Any) -> Glyph:
    moves = map(face.pdfScale, (position.x_advance, position.x_offset, position.y_offset))
    return Glyph(code, face.face.charWidths[ord(code)], *moves)


def _letter(face: Face, glyph: int, text: str) -> str:
    """The character with a glyph of its own that says what it reads; nothing where none has."""
    read = unicodedata.normalize("NFKC", text)
    of_glyph = map(chr, face.face.glyphToChar.get(glyph, ()))
    return next((sign for sign in of_glyph if unicodedata.normalize("NFKC", sign) == read), "")


def _private(face: Face, glyph: int) -> str:
    """The character of private use that stands for a glyph in a face."""
    table = face.face
    code = PRIVATE + glyph
    if table.charToGlyph.get(code, glyph) != glyph:
        code = 0xF0000 + glyph
    table.charToGlyph[code] = glyph
    table.charWidths[code] = table._pdfScale(table.hmetrics[glyph][0])
    return chr(code)
