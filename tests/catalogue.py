"""Texts of the program against its catalogues. `python -m tests.catalogue` adds what is new.

A text whose British spelling is that of the source is left empty in the catalogue.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract

import shopflow
from shopflow import texts

ROOT = Path(shopflow.__file__).parent
KEYWORDS = {"_": (1,), "gettext": (1,), "lazy": (1,), "gettext_noop": (1,), "ngettext": (1, 2)}

OPTIONS = {"trimmed": "true", "newstyle_gettext": "true"}
"""As web/language.py has them."""

BRITISH = {
    "authorize": "authorise",
    "authorized": "authorised",
    "behavior": "behaviour",
    "center": "centre",
    "check or transfer": "cheque or transfer",
    "color": "colour",
    "colors": "colours",
    "favor": "favour",
    "gray": "grey",
    "labeled": "labelled",
    "millimeter": "millimetre",
    "neighbors": "neighbours",
    "organization": "organisation",
    "recognize": "recognise",
    "zip code": "postcode",
}
"""British spellings of words of the source."""


Key = str | tuple[str, ...]
"""A text, or its forms for one and for many."""


def marked_in(path: Path) -> Iterator[tuple[int, Key]]:
    """Texts marked in a file of the program, each with its line."""
    method: Any = babel_extract if path.suffix == ".html" else "python"
    with path.open("rb") as file:
        for line, key, _, _ in extract(method, file, KEYWORDS, options=OPTIONS):
            yield line, key


@cache
def marked() -> tuple[tuple[Key, str], ...]:
    """Every text marked in the program, with the file it stands in."""
    return tuple(
        (key, str(path.relative_to(ROOT)))
        for path in sorted((*ROOT.rglob("*.py"), *ROOT.rglob("*.html")))
        for _, key in marked_in(path)
    )


def forms(key: Key) -> tuple[str, ...]:
    """All texts of a key."""
    return (key,) if isinstance(key, str) else key


def file_of(language: str) -> Path:
    """The catalogue of a language."""
    return texts.FOLDER / language / "LC_MESSAGES" / "messages.po"


def read(language: str) -> Catalog:
    """The catalogue of a language as it is committed."""
    with file_of(language).open("rb") as file:
        return read_po(file, locale=language)


def british(text: str) -> str:
    """A text in British spelling, word for word; capitals as they were."""

    def spelled(match: re.Match[str]) -> str:
        word = BRITISH[match[0].lower()]
        return word.capitalize() if match[0][0].isupper() else word

    return re.sub(rf"\b({'|'.join(BRITISH)})\b", spelled, text, flags=re.IGNORECASE)


def updated(language: str, before: Catalog | None) -> Catalog:
    """A catalogue of every text there is: what was translated stays, what is gone goes."""
    after = Catalog(locale=language, header_comment="# Texts of shopflow.", charset="utf-8")
    for key, _ in marked():
        old = before.get(key if isinstance(key, str) else key[0]) if before else None
        after.add(key, old.string if old is not None and old.id == key else _first(key))
    return after


def _first(key: Key) -> Key:
    """The first translation of a new text: nothing, where British spelling is the same."""
    if isinstance(key, str):
        return british(key) if british(key) != key else ""
    plural = tuple(map(british, key))
    return plural if plural != key else ("", "")


def messages(catalogue: Catalog) -> Iterator[tuple[str, str]]:
    """Each text of a catalogue with its translation, empty where it is that of the source."""
    for message in catalogue:
        ids: Any = message.id
        strings: Any = message.string
        if ids:
            yield from zip(forms(ids), forms(strings), strict=True)


def main() -> None:
    """Bring each catalogue up to the texts of the program."""
    for language in texts.LANGUAGES:
        if language != texts.SOURCE:
            path = file_of(language)
            after = updated(language, read(language) if path.exists() else None)
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                write_po(
                    file, after, width=100, no_location=True, omit_header=True, sort_output=True
                )


if __name__ == "__main__":
    main()
