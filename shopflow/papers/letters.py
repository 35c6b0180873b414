"""Texts of a paper whose letters would come out wrong, told before it is issued."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

from shopflow import fonts

NOT_PRINTED = frozenset({"file_text"})
"""Fields that a paper holds and does not print."""


@dataclasses.dataclass(frozen=True)
class WrongLetters:
    """A text with letters that are drawn as empty boxes, or apart where they join."""

    text: str
    boxes: str
    apart: str


def wrong_letters(content: object) -> list[WrongLetters]:
    """Every text of a paper's data that is not drawn as it is written, each once."""
    texts = dict.fromkeys(_texts(content))
    doubtful = (WrongLetters(text, fonts.lacking(text), fonts.unshaped(text)) for text in texts)
    return [item for item in doubtful if item.boxes or item.apart]


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        # Most texts are plain ASCII, which every face has.
        if not value.isascii():
            yield value
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _texts(item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            if field.name not in NOT_PRINTED:
                yield from _texts(getattr(value, field.name))
