"""Chinese, Japanese and Korean letters: their outlines turned into small TrueType faces.

The typeface that has them is one file of 65,000 cubic outlines at any weight; what makes the PDFs
embeds TrueType's quadratic ones. So the few letters a paper needs are turned as they are asked
for, a row of the code table at a time.
"""

from __future__ import annotations

import io
from functools import cache
from typing import Any

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.cu2quPen import Cu2QuPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from shopflow.fonts import files

FILE = "NotoSansCJK-VF.otf.ttc"
FACE = 2
"""Of the five in the file: Han letters are drawn the way simplified Chinese has them."""

ROW = 16
"""Letters in a face: a name rarely has two of one row, and each takes a millisecond or two."""

ASCENT, DESCENT = 880, -120
"""The em box that Han letters fill."""

NEAR = 1.0
"""Thousandths of an em that a turned outline may stand off the one it is made from."""


def has(code: int) -> bool:
    """True where the typeface draws a code point."""
    return code in _letters()


def row(code: int, weight: int) -> tuple[str, bytes]:
    """Name and TrueType file of the row of letters that `code` lies in, at a weight of 100 to 900.

    The same row always gives the same bytes.
    """
    first = code - code % ROW
    letters = {at: name for at in range(first, first + ROW) if (name := _letters().get(at))}
    name = f"NotoSansCJK-{weight}-{first:04X}"
    return name, _face(name, letters, weight)


@cache
def _source() -> TTFont:
    return TTFont(files.path(FILE), fontNumber=FACE, lazy=True)


@cache
def _letters() -> dict[int, str]:
    letters: dict[int, str] = _source().getBestCmap()
    return letters


def _face(name: str, letters: dict[int, str], weight: int) -> bytes:
    glyph_set = _source().getGlyphSet(location={"wght": weight})
    glyphs = [".notdef", *dict.fromkeys(letters.values())]
    outlines = {glyph: _outline(glyph_set[glyph]) for glyph in glyphs}
    builder = FontBuilder(_source()["head"].unitsPerEm, isTTF=True)
    # The typeface's own moments: those of making would be others each time.
    builder.font.recalcTimestamp = False
    source = _source()["head"]
    builder.updateHead(created=source.created, modified=source.modified)
    builder.setupGlyphOrder(glyphs)
    builder.setupCharacterMap(letters)
    builder.setupGlyf(outlines)
    left = builder.font["glyf"]
    builder.setupHorizontalMetrics(
        {
            glyph: (round(glyph_set[glyph].width), getattr(left[glyph], "xMin", 0))
            for glyph in glyphs
        }
    )
    builder.setupHorizontalHeader(ascent=ASCENT, descent=DESCENT)
    builder.setupNameTable({"familyName": name, "styleName": "Regular", "psName": name})
    builder.setupOS2(sTypoAscender=ASCENT, sTypoDescender=DESCENT, sCapHeight=733)
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def _outline(glyph: Any) -> Any:
    pen = TTGlyphPen(None)
    glyph.draw(Cu2QuPen(pen, NEAR, reverse_direction=True))
    return pen.glyph()
