"""A line of Arabic or Hebrew, put in the order it is drawn in, from left to right."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Any, NamedTuple

from bidi import algorithm

LEFT_TO_RIGHT = "\u200e"
"""A mark without a shape that counts as a letter written from left to right."""

RIGHT_TO_LEFT = "\u200f"
"""A mark without a shape that counts as a letter written from right to left."""

_CLOSING = {"(": ")", "[": "]", "{": "}"}

_LEFTWARDS = re.compile(
    "[\u0590-\u08ff\u200f\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]"
)
"""Blocks of Unicode that are written from right to left."""


class Drawn(NamedTuple):
    """A character of a line where it is drawn."""

    place: int
    """In the line as it is read."""

    leftwards: bool
    sign: str
    """Itself, or the bracket it is mirrored to."""


def runs_leftwards(text: str) -> bool:
    """Tell whether a text has letters that are written from right to left."""
    signs = _LEFTWARDS.findall(text)
    return any(unicodedata.bidirectional(sign) in ("R", "AL", "AN") for sign in signs)


def as_drawn(line: str) -> list[Drawn]:
    """The characters of one line from left to right as they are drawn, by Unicode Annex 9.

    A line belongs to a paper that is written from left to right, and a number behind a comma to
    the paper, as a street's behind a shop's name. Joiners keep their place behind their letter,
    where rule X9 would remove them.
    """
    if not runs_leftwards(line):
        return [Drawn(index, False, sign) for index, sign in enumerate(line)]
    marked = list(_marked(line))
    storage: dict[str, Any] = algorithm.get_empty_storage()
    storage |= {"base_level": 0, "base_dir": "L"}
    algorithm.get_embedding_levels("".join(sign for sign, _ in marked), storage)
    for character, (_, index) in zip(storage["chars"], marked, strict=True):
        character["place"] = index
    for step in (
        algorithm.explicit_embed_and_overrides,
        algorithm.resolve_weak_types,
        algorithm.resolve_neutral_types,
        algorithm.resolve_implicit_levels,
        algorithm.reorder_resolved_levels,
        algorithm.apply_mirroring,
    ):
        step(storage, False)
    visual = [
        Drawn(item["place"], item["level"] % 2 == 1, item["ch"])
        for item in storage["chars"]
        if item["place"] is not None
    ]
    return list(_with_joiners(visual, line))


def _marked(line: str) -> Iterator[tuple[str, int | None]]:
    """The characters with their places, and between them marks, which have none.

    Marks give both brackets of a pair one direction (UAX 9, rule N0), where the library resolves
    each bracket alone and parts one at the end of a line from its fellow.
    """
    marks = [""] * len(line)
    for first, last in _pairs(line):
        marks[first] = marks[last] = _mark_of_pair(line, first, last)
    for index, sign in enumerate(line):
        yield from ((mark, None) for mark in marks[index])
        yield sign, index
        yield from ((mark, None) for mark in marks[index])
        if sign == "," and re.match(r" \d", line[index + 1 : index + 3]):
            yield LEFT_TO_RIGHT, None


def _with_joiners(letters: list[Drawn], line: str) -> Iterator[Drawn]:
    """Letters with their joiners: right of their letter, left where the text runs
    leftwards."""
    visible = {item.place for item in letters}
    for item in letters:
        behind = item.place + 1
        lost: list[Drawn] = []
        while behind < len(line) and behind not in visible:
            lost.append(Drawn(behind, item.leftwards, line[behind]))
            behind += 1
        yield from [*reversed(lost), item] if item.leftwards else [item, *lost]


def _pairs(line: str) -> Iterator[tuple[int, int]]:
    """Positions of matching brackets."""
    opened: list[tuple[str, int]] = []
    for index, sign in enumerate(line):
        if sign in _CLOSING:
            opened.append((_CLOSING[sign], index))
        elif any(sign == closing for closing, _ in opened):
            while True:
                closing, first = opened.pop()
                if closing == sign:
                    yield first, index
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
