"""Texts folded to be compared: accents, capitals and separators left out of account."""

from __future__ import annotations

import re
import unicodedata

_UNDIVIDED = str.maketrans({"æ": "ae", "đ": "d", "ð": "d", "ı": "i", "ł": "l", "ø": "o",
                            "œ": "oe", "þ": "th"})  # fmt: skip
"""Letters that Unicode does not divide into a plain one and its accent."""

_SEPARATORS = re.compile(r"[\W_]+")


def plain(text: str) -> str:
    """A text to compare by: in small letters without accents, "mullenbach" for "Müllenbach"."""
    if text.isascii():
        return text.lower()
    divided = unicodedata.normalize("NFKD", text.casefold()).translate(_UNDIVIDED)
    return "".join(letter for letter in divided if not unicodedata.combining(letter))


def bare(text: str) -> str:
    """The letters and digits of a number, in small letters: "hc4417208" for "HC 4417-208"."""
    return _SEPARATORS.sub("", text.lower())
