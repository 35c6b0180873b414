"""The one typeface, on paper and screen: Source Sans Pro, from its package.

On paper, letters that it lacks are drawn in Noto Sans, by HarfBuzz where they depend on their
neighbours. A line of Latin, Greek or Cyrillic goes past all that: a shaped paragraph takes some
twenty times as long (400 words 15 to 19 ms, those of Latin 0.7 ms). Faces are loaded when the first
letter is measured or drawn, not before. Tibetan and the smaller scripts have no face here.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from itertools import pairwise
from typing import Any

from shopflow.fonts.direction import runs_leftwards
from shopflow.fonts.faces import add
from shopflow.fonts.family import BOLD, FILES, ITALIC, REGULAR, family, register
from shopflow.fonts.scripts import JOINERS, needs_shaping
from shopflow.fonts.writing import draw, plain, write

__all__ = [
    "BOLD",
    "FILES",
    "ITALIC",
    "REGULAR",
    "add",
    "draw",
    "family",
    "fitted",
    "has_boxes",
    "lacking",
    "needs_shaping",
    "plain",
    "printable",
    "register",
    "runs_leftwards",
    "unshaped",
    "width",
    "write",
]


def printable(text: str) -> str:
    """Text as it can be set: accents composed, tabs as spaces, other control characters gone.

    Joiners stay behind letters that are shaped. A character that no face has, as one of Tibetan,
    stays in the text and is drawn as an empty box.
    """
    composed = unicodedata.normalize("NFC", text.replace("\t", " "))
    if composed.isprintable():
        return composed
    return "".join(sign for before, sign in pairwise(f" {composed}") if _has_shape(sign, before))


def _has_shape(sign: str, before: str) -> bool:
    """Tell whether a character is kept. Category C is of control, format and half characters."""
    if sign in JOINERS:
        return needs_shaping(before)
    return sign == "\n" or unicodedata.category(sign)[0] != "C"


def lacking(text: str) -> str:
    """The characters of a text that would be drawn as empty boxes, each once."""
    face = family(REGULAR)
    signs = dict.fromkeys(sign for sign in printable(text) if not sign.isspace())
    return "".join(sign for sign in signs if sign not in JOINERS and not face.has(sign))


def has_boxes(document: Any) -> bool:
    """Tell whether a letter was drawn as an empty box in a document of reportlab's."""
    return bool(getattr(document, "has_boxes", False))


def unshaped(text: str) -> str:
    """The characters that a typeface of the shop's own draws apart, where they join; each once.

    It has their shapes, but not the rules by which they build syllables.
    """
    face = family(REGULAR)
    return "".join(sign for sign in dict.fromkeys(printable(text)) if face.draws_apart(sign))


@lru_cache(maxsize=4096)
def width(text: str, size: float, name: str = REGULAR) -> float:
    """Width of a line of text in points."""
    return family(name).stringWidth(printable(text), size)


def fitted(text: str, size: float, most: float, name: str = REGULAR) -> str:
    """The text, shortened with an ellipsis where it is wider than `most` points."""
    if width(text, size, name) <= most:
        return text
    while text and width(text + "…", size, name) > most:
        text = text[:-1]
    return text.rstrip() + "…"
