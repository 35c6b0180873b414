"""A language that nobody speaks: a catalogue whose texts are in Cyrillic, letter for letter.

A page in it shows every text that came from no catalogue, for that keeps its Latin letters. What
people typed is put into Greek letters first, so that it is told from both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from string import ascii_lowercase, ascii_uppercase

from babel.messages import Catalog
from babel.messages.pofile import write_po
from sqlalchemy import Enum, String, select, update
from sqlalchemy.orm import Session
from sqlalchemy.sql.schema import Column

from shopflow import texts
from shopflow.models import Base, Event, HouseStyle
from tests.catalogue import Key, forms, marked

LANGUAGE = "en_GB"
"""The language whose catalogue is another for a while."""

CYRILLIC = "абцдефгхийклмнопярстувшжыз"
GREEK = "αβξδεφγηιϳκλμνοπϙρστυϡωχψζ"
HELD = re.compile(r"%\(\w+\)s|\{[^}]*\}|<[^>]*>|&\w+;|%%")
"""Pieces of a text that are no words: placeholders and markup."""

TYPED = re.compile(
    r"(\w*name|family|builder|address|addressee|phone|\w*notes?|condition|caption|description"
    r"|\w*reason|\w*because|what|stage|title|operator|head|plate|reference|identifier|mark|source"
    r"|to_check|cautions|method|medium|asked_for|approved_by|handed_to|check_statement|departures"
    r"|opinions|identification|figure|value|working|material|ports|chamber|fuel|instructions"
    r"|customer_text|device|engine_type|gauge_mark|calibration_mark|tool|tax_label|subject|body|login)"
)
"""Columns that hold what people typed."""

FROZEN = (
    "certificate", "certificate_draft", "invoice", "lookup_text", "name_stamp", "record_log",
)  # fmt: skip
"""Tables of what is issued, and of what the program makes of other tables."""

NAMES = (Event.__table__.c.subject, HouseStyle.__table__.c.label_name)
"""Columns of the same names that hold the program's own words."""

LETTERS: dict[str, dict[int, str]] = {
    name: {
        ord(plain): letter
        for plain, letter in zip(
            ascii_lowercase + ascii_uppercase, letters + letters.upper(), strict=True
        )
    }
    for name, letters in (("text", CYRILLIC), ("typed", GREEK))
}


def pseudo(text: str) -> str:
    """A text in the language; placeholders and markup as they are."""
    pieces, start = [], 0
    for match in HELD.finditer(text):
        pieces += [text[start : match.start()].translate(LETTERS["text"]), match[0]]
        start = match.end()
    return "".join([*pieces, text[start:].translate(LETTERS["text"])])


@contextmanager
def catalogue(folder: Path) -> Iterator[None]:
    """Have `LANGUAGE` be the language that nobody speaks for a while."""
    path = folder / LANGUAGE / "LC_MESSAGES" / "messages.po"
    path.parent.mkdir(parents=True)
    with path.open("wb") as file:
        write_po(file, _catalog())
    before = texts.FOLDER
    texts.FOLDER = folder
    texts.catalogue.cache_clear()
    try:
        yield
    finally:
        texts.FOLDER = before
        texts.catalogue.cache_clear()


def _catalog() -> Catalog:
    catalog = Catalog(locale=LANGUAGE)
    for key, _ in marked():
        translation: Key = pseudo(key) if isinstance(key, str) else tuple(map(pseudo, forms(key)))
        catalog.add(key, translation)
    return catalog


def put_typed_in_greek(db: Session) -> None:
    """Put what people typed into Greek letters; what is issued stays, for it cannot be changed."""
    db.flush()
    for table in Base.metadata.sorted_tables:
        columns = [column for column in table.columns if _is_typed(column)]
        key = next(iter(table.primary_key), None)
        if columns and key is not None and table.name not in FROZEN:
            for row in db.execute(select(key, *columns)).all():
                values = {
                    column.name: text.translate(LETTERS["typed"])
                    for column, text in zip(columns, row[1:], strict=True)
                    if isinstance(text, str)
                }
                db.execute(update(table).where(key == row[0]).values(values))
    db.expire_all()


def _is_typed(column: Column[object]) -> bool:
    is_text = isinstance(column.type, String) and not isinstance(column.type, Enum)
    return is_text and column not in NAMES and TYPED.fullmatch(column.name) is not None
