"""Lines of a document's text that differ from those of the document as issued."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Indel


@dataclass(frozen=True)
class AlteredPassage:
    """A passage that the issued document and another copy have differently; one may be empty."""

    issued: str
    copy: str


def altered_passages(issued: Sequence[str], copy: Sequence[str]) -> list[AlteredPassage]:
    """Passages that differ between the text of an issued document and of a copy, in their order.

    Lines in common are the longest that keep their order, so two values that changed places differ.

    >>> altered_passages(["Flow", "81.0 cfm", "End"], ["Flow", "91.0 cfm", "End"])
    [AlteredPassage(issued='81.0 cfm', copy='91.0 cfm')]
    """
    passages = []
    before, after = [""] * 0, [""] * 0
    for step in Indel.opcodes(issued, copy):
        if step.tag == "equal":
            passages += _passage(before, after)
            before, after = [], []
        else:
            before += issued[step.src_start : step.src_end]
            after += copy[step.dest_start : step.dest_end]
    return passages + _passage(before, after)


def _passage(issued: Sequence[str], copy: Sequence[str]) -> list[AlteredPassage]:
    return [AlteredPassage(" ".join(issued), " ".join(copy))] if issued or copy else []
