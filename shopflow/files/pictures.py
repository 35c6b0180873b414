"""Photos made fit to keep: upright, of a reasonable size, and without where they were taken.

The pictures themselves are worked on in a process of its own: `shopflow.confined.pictures`.
"""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass

from shopflow import confined
from shopflow.confined.limits import BROKEN, LARGE, MOST_PIXELS, SECONDS, UNKNOWN
from shopflow.texts import gettext

_PROGRAM = "shopflow.confined.pictures"

_one_at_a_time = threading.Lock()
"""A picture takes up to 0.5 GB while it is worked on: several at once would fill the memory of a
small machine."""


class UnreadableError(Exception):
    """The picture cannot be read, or is too large; the words say which."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as kept and its small form, both JPEG; width and height in pixels of the former."""

    full: bytes
    small: bytes
    width: int
    height: int


def fit(content: bytes) -> Picture:
    """Turn a photo upright by its EXIF orientation, shrink it and encode it again.

    Nothing but the pixels is carried over: no EXIF, place, comment, profile or embedded preview.
    Colours are taken for sRGB; what is transparent becomes white. Raises UnreadableError.
    """
    try:
        (width, height), (full, small) = _worked_on("photo", content)
    except _FaultError as error:
        words = gettext("cannot be read as a picture, or was cut off on its way: send it again")
        if error.fault == LARGE:
            words = gettext(
                "has more than {most} million pixels: send it smaller", most=MOST_PIXELS // 10**6
            )
        raise UnreadableError(words) from None
    return Picture(full, small, width, height)


def logo(content: bytes) -> bytes:
    """A PNG or JPEG file as a small PNG on white with nothing else in it.

    Raises UnreadableError.
    """
    try:
        _, (png,) = _worked_on("logo", content)
    except _FaultError as error:
        words = gettext("this picture is damaged: choose another")
        if error.fault == LARGE:
            words = gettext(
                "more than {most} million pixels: save it smaller", most=MOST_PIXELS // 10**6
            )
        elif error.fault == UNKNOWN:
            words = gettext("not a PNG or JPEG picture: choose another")
        raise UnreadableError(words) from None
    return png


class _FaultError(Exception):
    """The program found a fault, or came to no end."""

    def __init__(self, fault: str) -> None:
        super().__init__(fault)
        self.fault = fault


def _worked_on(kind: str, content: bytes) -> tuple[tuple[int, int], list[bytes]]:
    with _one_at_a_time:
        try:
            output = confined.call(_PROGRAM, kind, content=content, seconds=SECONDS)
        except confined.ConfinedError:
            raise _FaultError(BROKEN) from None
    line, _, rest = output.partition(b"\n")
    outcome = json.loads(line)
    if "fault" in outcome:
        raise _FaultError(outcome["fault"])
    forms = []
    for length in outcome["lengths"]:
        forms.append(rest[:length])
        rest = rest[length:]
    return (outcome["width"], outcome["height"]), forms
