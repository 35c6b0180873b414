"""The one typeface, on paper and screen: Source Sans Pro, from its package."""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from pathlib import Path

import font_source_sans_pro
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FOLDER = Path(font_source_sans_pro.font_directory)
REGULAR = "SourceSans"
BOLD = "SourceSans-Bold"
ITALIC = "SourceSans-Italic"
FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}


@cache
def register() -> None:
    """Make the family known to reportlab, once in a process."""
    for name, file in FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(FOLDER / file)))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)


def printable(text: str) -> str:
    """Text as it can be set: accents composed, tabs as spaces, other control characters gone.

    A character the typeface lacks, as one of Chinese or Arabic, stays in the text and is drawn
    as an empty box.
    """
    if text.isascii() and text.isprintable():
        return text
    composed = unicodedata.normalize("NFC", text.replace("\t", " "))
    # Category C: control, format, unassigned and half characters, none of which has a shape.
    return "".join(
        sign for sign in composed if sign == "\n" or unicodedata.category(sign)[0] != "C"
    )


@lru_cache(maxsize=4096)
def width(text: str, size: float, name: str = REGULAR) -> float:
    """Width of a line of text in points."""
    register()
    return float(pdfmetrics.stringWidth(printable(text), name, size))


def fitted(text: str, size: float, most: float, name: str = REGULAR) -> str:
    """The text, shortened with an ellipsis where it is wider than `most` points."""
    if width(text, size, name) <= most:
        return text
    while text and width(text + "…", size, name) > most:
        text = text[:-1]
    return text.rstrip() + "…"
