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

METHODS = {".html": babel_extract, ".js": "javascript"}
ENDINGS = (".py", *METHODS)

OPTIONS = {"trimmed": "true", "newstyle_gettext": "true"}
"""As web/language.py has them."""

BRITISH = {
    "aluminum": "aluminium",
    "analyze": "analyse",
    "analyzed": "analysed",
    "analyzer": "analyser",
    "analyzing": "analysing",
    "apologize": "apologise",
    "armor": "armour",
    "artifact": "artefact",
    "authorize": "authorise",
    "authorized": "authorised",
    "authorizes": "authorises",
    "authorizing": "authorising",
    "behavior": "behaviour",
    "behaviors": "behaviours",
    "caliber": "calibre",
    "catalog": "catalogue",
    "catalogs": "catalogues",
    "center": "centre",
    "centered": "centred",
    "centering": "centring",
    "centerline": "centreline",
    "centers": "centres",
    "centimeter": "centimetre",
    "centimeters": "centimetres",
    "check or transfer": "cheque or transfer",
    "color": "colour",
    "colored": "coloured",
    "colors": "colours",
    "counselor": "counsellor",
    "customization": "customisation",
    "customize": "customise",
    "defense": "defence",
    "demagnetize": "demagnetise",
    "demagnetized": "demagnetised",
    "dialog": "dialogue",
    "emphasize": "emphasise",
    "endeavor": "endeavour",
    "favor": "favour",
    "favorable": "favourable",
    "favorite": "favourite",
    "favorites": "favourites",
    "fiber": "fibre",
    "fibers": "fibres",
    "flavor": "flavour",
    "fueled": "fuelled",
    "fulfill": "fulfil",
    "gray": "grey",
    "grays": "greys",
    "harbor": "harbour",
    "honor": "honour",
    "initialize": "initialise",
    "judgment": "judgement",
    "kilometer": "kilometre",
    "kilometers": "kilometres",
    "labeled": "labelled",
    "labeling": "labelling",
    "labor": "labour",
    "leveled": "levelled",
    "leveling": "levelling",
    "liter": "litre",
    "liters": "litres",
    "luster": "lustre",
    "maneuver": "manoeuvre",
    "maximize": "maximise",
    "millimeter": "millimetre",
    "millimeters": "millimetres",
    "minimize": "minimise",
    "modeled": "modelled",
    "modeling": "modelling",
    "mold": "mould",
    "molded": "moulded",
    "neighbor": "neighbour",
    "neighboring": "neighbouring",
    "neighbors": "neighbours",
    "normalize": "normalise",
    "normalized": "normalised",
    "normalizes": "normalises",
    "offense": "offence",
    "optimize": "optimise",
    "optimized": "optimised",
    "organization": "organisation",
    "organize": "organise",
    "organized": "organised",
    "paneled": "panelled",
    "paralyze": "paralyse",
    "plow": "plough",
    "practicing": "practising",
    "pretense": "pretence",
    "prioritize": "prioritise",
    "realize": "realise",
    "realized": "realised",
    "recognize": "recognise",
    "recognized": "recognised",
    "recognizes": "recognises",
    "rigor": "rigour",
    "rumor": "rumour",
    "savior": "saviour",
    "signaled": "signalled",
    "skeptical": "sceptical",
    "skillful": "skilful",
    "specialty": "speciality",
    "standardize": "standardise",
    "standardized": "standardised",
    "studentized": "studentised",
    "sulfur": "sulphur",
    "sulfuric": "sulphuric",
    "summarize": "summarise",
    "summarized": "summarised",
    "theater": "theatre",
    "tire": "tyre",
    "tires": "tyres",
    "totaled": "totalled",
    "toward": "towards",
    "traveled": "travelled",
    "traveling": "travelling",
    "tumor": "tumour",
    "unauthorized": "unauthorised",
    "unlabeled": "unlabelled",
    "utilize": "utilise",
    "vapor": "vapour",
    "vaporize": "vaporise",
    "vapors": "vapours",
    "visualize": "visualise",
    "woolen": "woollen",
    "zip code": "postcode",
}
"""British spellings of words of the source, from memory of both dictionaries.

A meter that measures is a meter in both; so is a program of a computer. "Cancelled" is American
too, and the state of jobs on record; "Authorization" is the name of a header. "License" is a verb
in both and a noun in one, "practice" the other way round, "check" a test in both: a text that needs
one of these has its translation written by hand.
"""


Key = str | tuple[str, ...]
"""A text, or its forms for one and for many."""


def marked_in(path: Path) -> Iterator[tuple[int, Key]]:
    """Texts marked in a file of the program, each with its line."""
    method: Any = METHODS.get(path.suffix, "python")
    with path.open("rb") as file:
        for line, key, _, _ in extract(method, file, KEYWORDS, options=OPTIONS):
            yield line, key


@cache
def marked() -> tuple[tuple[Key, str], ...]:
    """Every text marked in the program, with the file it stands in."""
    return tuple(
        (key, str(path.relative_to(ROOT)))
        for path in sorted(path for ending in ENDINGS for path in ROOT.rglob(f"*{ending}"))
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
        written: Any = old.string if old is not None and old.id == key else ""
        after.add(key, written if any(forms(written)) else _first(key))
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
