"""How alike a typed text and a name on file are, slips forgiven."""

from __future__ import annotations

from rapidfuzz import fuzz, utils

GOOD_MATCH = 78
"""Score below which a name is not what was meant: one slip in five letters gets by."""


def likeness(text: str, name: str) -> float:
    """Likeness out of 100, by letters and digits alone: "K 18-T" is "k18t".

    The beginning of a name, or the beginnings of its words, count as nearly the whole.
    """
    typed, known = utils.default_process(text), utils.default_process(name)
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
