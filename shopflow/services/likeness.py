"""How alike a typed text and a name on file are, slips forgiven."""

from __future__ import annotations

import unicodedata
from typing import Any

from rapidfuzz import fuzz, utils
from sqlalchemy import ColumnElement, func

GOOD_MATCH = 78
"""Score below which a name is not what was meant: one slip in five letters gets by."""

SEPARATORS = " -./_#"
"""What people put into casting numbers and serials, or leave out of them."""

_UNDIVIDED = str.maketrans({"æ": "ae", "đ": "d", "ð": "d", "ı": "i", "ł": "l", "ø": "o",
                            "œ": "oe", "þ": "th"})  # fmt: skip
"""Letters that Unicode does not divide into a plain one and its accent."""


def plain(text: str) -> str:
    """A text to compare by: in small letters without accents, "mullenbach" for "Müllenbach"."""
    divided = unicodedata.normalize("NFKD", text.casefold()).translate(_UNDIVIDED)
    return "".join(letter for letter in divided if not unicodedata.combining(letter))


def bare(text: str) -> str:
    """The letters and digits of a number, in small letters: "hc4417208" for "HC 4417-208"."""
    return "".join(letter for letter in text.lower() if letter.isalnum())


def bare_column(column: Any) -> ColumnElement[str]:
    """A column of numbers, to be compared with `bare` text."""
    found = func.lower(column)
    for separator in SEPARATORS:
        found = func.replace(found, separator, "")
    return found


def likeness(text: str, name: str) -> float:
    """Likeness out of 100, by letters and digits alone: "K 18-T" is "k18t".

    The beginning of a name, or the beginnings of its words, count as nearly the whole.
    """
    typed, known = utils.default_process(plain(text)), utils.default_process(plain(name))
    if not typed or not known:
        return 0.0
    close, joined = typed.replace(" ", ""), known.replace(" ", "")
    if close == joined:
        return 100.0
    # Single letters would begin everything.
    if len(close) >= 2 and (joined.startswith(close) or _words_begin(typed, known)):
        return 95.0
    return max(fuzz.ratio(close, joined), fuzz.token_sort_ratio(typed, known))


def _words_begin(typed: str, known: str) -> bool:
    words = known.split()
    return all(any(word.startswith(piece) for word in words) for piece in typed.split())
