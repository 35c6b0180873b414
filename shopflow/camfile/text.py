"""Cam files as text: reading TOML and writing it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from shopflow.camfile.checking import check
from shopflow.camfile.document import CamDocument, LobeDocument
from shopflow.camfile.keys import ENGINE, SIDES, TEXTS, of_lobe
from shopflow.testfile import toml_text
from shopflow.testfile.keys import Key
from shopflow.testfile.toml_text import row, value


def read(path: Path) -> CamDocument:
    """The document in a file. Raises ValidationError, also where the file cannot be read."""
    return toml_text.read(path, loads)


def loads(content: str | bytes) -> CamDocument:
    """The document a cam file's text describes.

    Raises ValidationError with every fault; one that concerns the whole text has no key.
    """
    return toml_text.loads(content, check)


def dumps(document: CamDocument) -> str:
    """A cam file that reads back as the same document, every digit as typed."""
    lines = ["schema = 1", *_stated(document, TEXTS), "", "[engine]", *_stated(document, ENGINE)]
    for side in SIDES:
        lobe = getattr(document, side)
        if lobe is not None:
            lines += ["", f"[{side}]", *_stated(lobe, of_lobe(side)), *_arrays(lobe)]
    return "\n".join(lines) + "\n"


def _stated(document: CamDocument | LobeDocument, keys: Iterable[Key]) -> Iterator[str]:
    for key in keys:
        entry = getattr(document, key.field)
        if entry not in (None, ""):
            yield f"{key.name} = {value(entry)}"


def _arrays(lobe: LobeDocument) -> Iterator[str]:
    if not lobe.is_stand_in:
        yield f"lift_unit = {value(lobe.lift_unit)}"
        yield f"angle = {row(lobe.angles)}"
        yield f"lobe_lift = {row(lobe.lifts)}"
