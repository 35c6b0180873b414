"""Every text of a document comes from the catalogue of the document's language."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pymupdf
import pytest
from babel.messages import Catalog
from babel.messages.pofile import write_po

from shopflow import papers, texts
from shopflow.documents.snapshot import to_plain
from tests.catalogue import forms, marked
from tests.pdf import samples

LANGUAGE = "en_GB"
OTHER_VOWELS = str.maketrans("aeiouAEIOU", "åëïöüÅËÏÖÜ")
WORD = re.compile(r"[^\W\d_]{4,}")
PLACEHOLDER = re.compile(r"(\{[^{}]*\}|%\(\w+\)[sd])")
NO_TEXT = {"shopflow", "Isentropic"}
"""Words of the program's own that need no translation."""


def unlike(text: str) -> str:
    """A text whose every vowel is another, its placeholders as they were."""
    parts = PLACEHOLDER.split(text)
    return "".join(
        part if PLACEHOLDER.fullmatch(part) else part.translate(OTHER_VOWELS) for part in parts
    )


@pytest.fixture(scope="module")
def catalogues(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of catalogues in which no word is that of the source."""
    catalogue = Catalog(locale=LANGUAGE)
    for key, _ in marked():
        translated = tuple(map(unlike, forms(key)))
        catalogue.add(key, translated[0] if isinstance(key, str) else translated)
    folder = tmp_path_factory.mktemp("catalogues")
    file = folder / LANGUAGE / "LC_MESSAGES" / "messages.po"
    file.parent.mkdir(parents=True)
    with file.open("wb") as out:
        write_po(out, catalogue)
    return folder


@pytest.fixture
def another_language(catalogues: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Texts from that folder."""
    monkeypatch.setattr(texts, "FOLDER", catalogues)
    texts.catalogue.cache_clear()
    yield
    texts.catalogue.cache_clear()


def words_of(value: Any) -> set[str]:
    """Words of a document's own data."""
    if isinstance(value, str):
        return set(WORD.findall(value))
    if isinstance(value, dict):
        return {word for item in value.values() for word in words_of(item)}
    if isinstance(value, list | tuple):
        return {word for item in value for word in words_of(item)}
    return set()


BEFORE = samples.session()
AFTER = samples.session(stage="seats and bowls", gain=1.06)
DOCUMENTS: list[tuple[Callable[..., bytes], Any]] = [
    (papers.flow_certificate, samples.certificate([BEFORE, AFTER], (samples.gain(BEFORE, AFTER),))),
    (papers.work_order, samples.work_order([samples.order_page()])),
    (papers.bench_card, samples.card()),
    (papers.hand_off, samples.hand_off()),
    (papers.quote, samples.quote()),
    (papers.invoice, samples.invoice()),
    (papers.invoice, samples.credit_note()),
    (papers.collection, samples.receipt()),
    (papers.collection, samples.dispatch()),
]


@pytest.mark.slow
@pytest.mark.usefixtures("another_language")
@pytest.mark.parametrize(
    ("draw", "document"), DOCUMENTS, ids=[type(document).__name__ for _, document in DOCUMENTS]
)
def test_a_document_has_no_text_outside_the_catalogue(
    draw: Callable[..., bytes], document: Any
) -> None:
    display = replace(document.display, language=LANGUAGE, date_format="iso")
    document = replace(document, display=display)
    with pymupdf.open(stream=draw(document)) as pdf:
        text = " ".join(page.get_text() for page in pdf)
    plain = {word for word in WORD.findall(text) if word.isascii() and word != word.upper()}
    assert len(set(WORD.findall(text)) - plain) > 10
    # A word broken over two lines is a part of one.
    own = " ".join(words_of(to_plain(document)))
    assert not {word for word in plain - NO_TEXT if word not in own}
