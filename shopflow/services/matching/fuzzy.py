"""How alike a typed text and names on file are, slips forgiven."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any

from rapidfuzz import fuzz, process, utils
from sqlalchemy import ColumnElement, func

from shopflow.models.folding import bare, plain

__all__ = ["GOOD_MATCH", "Names", "bare", "bare_column", "likeness", "plain"]

GOOD_MATCH = 78
"""Score below which a name is not what was meant: one slip in five letters gets by."""

BEGINS = 95.0
"""Score of a name, or of words of it, that the text begins."""

SEPARATORS = " -./_#"
"""What people put into casting numbers and serials, or leave out of them."""


def bare_column(column: Any) -> ColumnElement[str]:
    """A column of numbers, to be compared with `bare` text."""
    found = func.lower(column)
    for separator in SEPARATORS:
        found = func.replace(found, separator, "")
    return found


def likeness(text: str, name: str) -> float:
    """Likeness of a text and one name, out of 100; see `Names`."""
    return Names([name]).like(text, least=0.0).get(name, 0.0)


class Names:
    """Names on file, folded once, to be held against one text after another.

    Likeness is out of 100, by letters and digits alone: "K 18-T" is "k18t". The beginning of a
    name, or the beginnings of its words, count as nearly the whole.
    """

    def __init__(self, names: Iterable[str]) -> None:
        folded: dict[str, list[str]] = {}
        for name in dict.fromkeys(names):
            folded.setdefault(_folded(name), []).append(name)
        folded.pop("", None)
        self._names = list(folded.values())
        self._joined = [known.replace(" ", "") for known in folded]
        self._sorted = [" ".join(sorted(known.split())) for known in folded]
        self._beginnings = sorted((joined, place) for place, joined in enumerate(self._joined))
        self._words = sorted(
            (word, place) for place, known in enumerate(folded) for word in set(known.split())
        )

    def like(self, text: str, least: float = GOOD_MATCH) -> dict[str, float]:
        """The names that are at least so much like a text, each with its score."""
        typed = _folded(text)
        close = typed.replace(" ", "")
        if not close:
            return {}
        # One whose words are out of order is held against with its words sorted.
        sorted_words = " ".join(sorted(typed.split()))
        scores = _scores(close, self._joined, least)
        for place, score in _scores(sorted_words, self._sorted, least).items():
            scores[place] = max(score, scores.get(place, 0.0))
        # Single letters would begin everything.
        if len(close) >= 2:
            for place in self._begun(typed, close):
                scores[place] = 100.0 if self._joined[place] == close else BEGINS
        return {name: score for place, score in scores.items() for name in self._names[place]}

    def _begun(self, typed: str, close: str) -> set[int]:
        """Places of the names that the text begins, or whose words its words begin."""
        words = [set(_beginning(self._words, piece)) for piece in typed.split()]
        return set(_beginning(self._beginnings, close)) | set.intersection(*words)


@lru_cache(maxsize=200_000)
def _folded(name: str) -> str:
    return str(utils.default_process(plain(name)))


def _scores(text: str, known: Sequence[str], least: float) -> dict[int, float]:
    found = process.extract(text, known, scorer=fuzz.ratio, score_cutoff=least, limit=None)
    return {place: score for _, score, place in found}


def _beginning(entries: list[tuple[str, int]], text: str) -> Iterator[int]:
    """Places of the sorted entries that begin with a text."""
    first = bisect_left(entries, (text,))
    while first < len(entries) and entries[first][0].startswith(text):
        yield entries[first][1]
        first += 1
