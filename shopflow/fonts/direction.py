"""Arabic and Hebrew: letters joined, and a line put in the order it is drawn in."""

from __future__ import annotations

import re
import unicodedata

import arabic_reshaper
from bidi.algorithm import get_display

LEFT_TO_RIGHT = "\u200e"
"""A mark without a shape that counts as a letter written from left to right."""

_LEFTWARDS = re.compile(
    "[\u0590-\u08ff\u200f\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]"
)
"""Where the code table has what is written from right to left."""

_joiner = arabic_reshaper.ArabicReshaper({"delete_harakat": False, "support_zwj": True})


def runs_leftwards(text: str) -> bool:
    """Whether a text has letters that are written from right to left."""
    found = _LEFTWARDS.findall(text)
    return any(unicodedata.bidirectional(sign) in ("R", "AL", "AN") for sign in found)


def as_drawn(line: str) -> str:
    """One line of text from left to right as it is drawn, by Unicode Standard Annex 9.

    Brackets within what runs leftwards are mirrored (`bidi.get_display` leaves them as they are).

    Arabic letters take the form that joins them to their neighbours. A line belongs to a paper that
    is written from left to right, and a number behind a comma to the paper, as a street's behind
    a shop's name.
    """
    if not runs_leftwards(line):
        return line
    marked = re.sub(r", (?=\d)", f",{LEFT_TO_RIGHT} ", joined(line))
    return str(get_display(marked, base_dir="L")).replace(LEFT_TO_RIGHT, "")


def joined(text: str) -> str:
    """Text in which each Arabic letter has the form that joins it to its neighbours."""
    return str(_joiner.reshape(text))
