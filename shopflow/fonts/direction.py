"""Arabic and Hebrew: letters joined, and a line put in the order it is drawn in."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

import arabic_reshaper
from bidi.algorithm import get_display

LEFT_TO_RIGHT = "\u200e"
"""A mark without a shape that counts as a letter written from left to right."""

RIGHT_TO_LEFT = "\u200f"
"""A mark without a shape that counts as a letter written from right to left."""

_CLOSING = {"(": ")", "[": "]", "{": "}"}

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
    drawn = str(get_display(_with_paired_brackets(marked), base_dir="L"))
    return drawn.replace(LEFT_TO_RIGHT, "").replace(RIGHT_TO_LEFT, "")


def _with_paired_brackets(line: str) -> str:
    """The line with marks that give both brackets of a pair one direction: UAX 9, rule N0.

    The library resolves each bracket alone, and parts one at the end of a line from its fellow.
    """
    marks = [""] * len(line)
    for first, last in _pairs(line):
        mark = _mark_of_pair(line, first, last)
        marks[first] = marks[last] = mark
    return "".join(f"{mark}{sign}{mark}" for mark, sign in zip(marks, line, strict=True))


def _pairs(line: str) -> Iterator[tuple[int, int]]:
    """Where brackets that belong together stand."""
    opened: list[tuple[str, int]] = []
    for place, sign in enumerate(line):
        if sign in _CLOSING:
            opened.append((_CLOSING[sign], place))
        elif any(sign == closing for closing, _ in opened):
            while True:
                closing, first = opened.pop()
                if closing == sign:
                    yield first, place
                    break


def _mark_of_pair(line: str, first: int, last: int) -> str:
    """The mark for a pair's direction; none where it holds neither letters nor digits."""
    within = {unicodedata.bidirectional(sign) for sign in line[first + 1 : last]}
    if "L" in within:
        return LEFT_TO_RIGHT
    if within.isdisjoint(("R", "AL", "EN", "AN")):
        return ""
    before = (unicodedata.bidirectional(sign) for sign in reversed(line[:first]))
    strong = next((kind for kind in before if kind in ("L", "R", "AL")), "L")
    return LEFT_TO_RIGHT if strong == "L" else RIGHT_TO_LEFT


def joined(text: str) -> str:
    """Text in which each Arabic letter has the form that joins it to its neighbours."""
    return str(_joiner.reshape(text))
