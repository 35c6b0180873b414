"""Likeness of a typed text to recorded names, misspellings forgiven."""

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
"""Characters that people put into casting numbers and serials, or omit."""


def bare_column(column: Any) -> ColumnElement[str]:
    """A column of numbers, to be compared with `bare` text."""
    bare = func.lower(column)
    for separator in SEPARATORS:
        bare = func.replace(bare, separator, "")
    return bare


def likeness(text: str, name: str) -> float:
    """Likeness of a text and one name, out of 100; see `Names`."""
    return Names([name]).like(text, least=0.0).get(name, 0.0)


class Names:
    """Names on record, folded once, to be held against one text after another.

    Likeness is out of 100, by letters and digits alone: "K 18-T" is "k18t". The beginning of a
    name, or the beginnings of its words, count as nearly the whole.
    """

    def __init__(self, names: Iterable[str]) -> None:
        folded: dict[str, list[str]] = {}
        for name in dict.fromkeys(names):
            folded.setdefault(_folded(name), []).append(name)
        folded.pop("", None)
        self._names = list(folded.values())
        self._joined = [name.replace(" ", "") for name in folded]
        self._sorted = [" ".join(sorted(name.split())) for name in folded]
        self._beginnings = sorted((joined, index) for index, joined in enumerate(self._joined))
        self._words = sorted(
            (word, index) for index, name in enumerate(folded) for word in set(name.split())
        )

    def like(self, text: str, least: float = GOOD_MATCH) -> dict[str, float]:
        """The names that score at least `least` against a text, each with its score."""
        typed = _folded(text)
        close = typed.replace(" ", "")
        if not close:
            return {}
        # One whose words are out of order is held against with its words sorted.
        sorted_words = " ".join(sorted(typed.split()))
        scores = _scores(close, self._joined, least)
        for index, score in _scores(sorted_words, self._sorted, least).items():
            scores[index] = max(score, scores.get(index, 0.0))
        # Single letters would begin everything.
        if len(close) >= 2:
            for index in self._begun(typed, close):
                scores[index] = 100.0 if self._joined[index] == close else BEGINS
        return {name: score for index, score in scores.items() for name in self._names[index]}

    def _begun(self, typed: str, close: str) -> set[int]:
        """Places of the names that the text begins, or whose words its words begin."""
        words = [set(_beginning(self._words, piece)) for piece in typed.split()]
        return set(_beginning(self._beginnings, close)) | set.intersection(*words)


@lru_cache(maxsize=200_000)
def _folded(name: str) -> str:
    return str(utils.default_process(plain(name)))


def _scores(text: str, names: Sequence[str], least: float) -> dict[int, float]:
    matches = process.extract(text, names, scorer=fuzz.ratio, score_cutoff=least, limit=None)
    return {index: score for _, score, index in matches}


def _beginning(entries: list[tuple[str, int]], text: str) -> Iterator[int]:
    """Places of the sorted entries that begin with a text."""
    first = bisect_left(entries, (text,))
    while first < len(entries) and entries[first][0].startswith(text):
        yield entries[first][1]
        first += 1
