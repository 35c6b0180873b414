"""The one typeface, on paper and screen: Source Sans Pro, from its package.

On paper, letters that it lacks are drawn in Noto Sans.
"""

from __future__ import annotations

import os
import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import font_source_sans_pro
from reportlab.pdfbase import pdfmetrics

from shopflow.fonts.direction import as_drawn, joined, runs_leftwards
from shopflow.fonts.faces import Family, add, needs_shaping

__all__ = [
    "BOLD",
    "FILES",
    "FOLDER",
    "ITALIC",
    "REGULAR",
    "add",
    "as_drawn",
    "drawable",
    "fitted",
    "joined",
    "lacking",
    "printable",
    "register",
    "runs_leftwards",
    "unshaped",
    "width",
]

FOLDER = Path(font_source_sans_pro.font_directory)
REGULAR = "SourceSans"
BOLD = "SourceSans-Bold"
ITALIC = "SourceSans-Italic"
FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}
WEIGHTS = {REGULAR: 400, BOLD: 600, ITALIC: 400}


@cache
def register() -> None:
    """Make the family known to reportlab, once in a process, and the shop's own files with it.

    SHOPFLOW_TYPEFACES names those, parted as in PATH. Raises ShopflowError where one is not a
    TrueType file.
    """
    for path in filter(None, os.environ.get("SHOPFLOW_TYPEFACES", "").split(os.pathsep)):
        add(Path(path))
    for name, file in FILES.items():
        pdfmetrics.registerFont(Family(name, FOLDER / file, WEIGHTS[name]))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)


def printable(text: str) -> str:
    """Text as it can be set: accents composed, tabs as spaces, other control characters gone.

    A character that no face has, as one of Devanagari, stays in the text and is drawn as an
    empty box.
    """
    composed = unicodedata.normalize("NFC", text.replace("\t", " "))
    if composed.isprintable():
        return composed
    # Category C: control, format, unassigned and half characters, none of which has a shape.
    return "".join(
        sign for sign in composed if sign == "\n" or unicodedata.category(sign)[0] != "C"
    )


def drawable(text: str) -> str:
    """Lines as they are handed to the page: printable, Arabic and Hebrew in drawn order."""
    said = printable(text)
    if not runs_leftwards(said):
        return said
    return "\n".join(as_drawn(line) for line in said.split("\n"))


def lacking(text: str) -> str:
    """The characters of a text that would be drawn as empty boxes, each once."""
    register()
    face: Any = pdfmetrics.getFont(REGULAR)
    signs = dict.fromkeys(sign for sign in printable(text) if not sign.isspace())
    return "".join(sign for sign in signs if not face.has(sign))


def unshaped(text: str) -> str:
    """The characters that a face has but draws apart, where they join into syllables; each once."""
    boxes = set(lacking(text))
    signs = dict.fromkeys(sign for sign in printable(text) if needs_shaping(sign))
    return "".join(sign for sign in signs if sign not in boxes)


@lru_cache(maxsize=4096)
def width(text: str, size: float, name: str = REGULAR) -> float:
    """Width of a line of text in points."""
    register()
    return float(pdfmetrics.stringWidth(drawable(text), name, size))


def fitted(text: str, size: float, most: float, name: str = REGULAR) -> str:
    """The text, shortened with an ellipsis where it is wider than `most` points."""
    if width(text, size, name) <= most:
        return text
    while text and width(text + "…", size, name) > most:
        text = text[:-1]
    return text.rstrip() + "…"
