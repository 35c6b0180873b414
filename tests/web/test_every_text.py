"""Every text comes from a catalogue: pages, documents and help in a language that nobody speaks."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pymupdf
import pytest
from flask import Flask
from lxml import html
from sqlalchemy.orm import Session
from werkzeug.test import TestResponse

from shopflow import cli
from shopflow.files import FileStore
from shopflow.models import Shop
from shopflow.texts import spoken
from shopflow.units import UNITS
from shopflow.web.language import script_messages
from tests import factories, pseudo
from tests.security.one_of_everything import create_one_of_everything, rules, takes
from tests.web.client import Client

READ = ("title", "aria-label", "placeholder", "alt")
"""Attributes that are read aloud or shown."""

SILENT = {
    "api": "programs read it",
    "assets": "typefaces",
    "export": "its rows are for programs",
    "feeds": "programs read it",
    "health": "a watchman reads it",
    "help": "the guide is in English; its spelling is that of both, see test_help.py",
    "static": "styles and scripts; tests/unit/test_texts.py reads the scripts",
}
"""Pages whose texts are in no catalogue, each with the reason."""

LATIN = {
    re.escape(factories.OWN_CHECK): "typed into what is issued, which nothing can put into Greek",
    r"https?://\S+|\S+@\S+|/[\w-]+\S*": "addresses",
    r"\b(date|entry|document|account|name|debit|credit|amount|currency|code|rate|base|customer|job"
    r"|text|tax|account name|tax \w+)(?= =)": "fields of the file for bookkeeping, which are keys",
    r"[0-9A-F]{4}(-[0-9A-F]{4}){3}|\b(FC|INV|CN|Q)-[\d-]+|\bSHA-256\b": "codes and numbers",
    r"\b[0-9a-f]{32}\b": "the head of the record log",
    r"\b(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept?|Oct|Nov|Dec)\b": "months, from Unicode's data",
    "|".join(rf"\b{re.escape(unit)}\b" for unit in UNITS if unit[0].isalpha()): "units",
    r"\b(inH₂O|mmH₂O|USD|UTC|rpm)\b": "units, a currency and a zone",
    r"\b(CSV|JCGM|JSON|JSME|PDF|TOML|UTF-8)\b": "names of standards and formats",
    r"\bshopflow\b": "the program's name",
    r"\bEnglish \(United (States|Kingdom)\)": "languages in their own words",
    r"\beach valve\b": "typed so into a head layout",
    r"\b([Ff]ront|[Rr]ear)\b": "typed into a head layout",
    r"\bLetter\b": "a size of paper",
}
"""Texts in Latin letters in every language, each with the reason."""


@pytest.fixture
def greek_shop(client: Client, db: Session, shop: Shop, web_app: Flask, tmp_path: Path) -> Any:
    """A shop with one of everything, in which people typed Greek."""
    shop.language = pseudo.LANGUAGE
    with pseudo.catalogue(tmp_path), spoken(pseudo.LANGUAGE):
        store = FileStore(web_app.config["SHOPFLOW"].files)
        yield create_one_of_everything(db, store, spoil=pseudo.put_typed_in_greek)


def texts_of(answer: TestResponse) -> Iterator[str]:
    """Pieces of text that a reader of a page or a document sees or hears."""
    if answer.mimetype == "application/pdf":
        with pymupdf.open(stream=answer.data) as document:
            yield from (block[4] for page in document for block in page.get_text("blocks"))
    elif answer.mimetype == "text/html":
        yield from _texts_in(html.fromstring(answer.text))


def _texts_in(element: Any) -> Iterator[str]:
    # Of another language than the page: pieces of the guide, which is in English.
    in_english = element.getparent() is not None and element.get("lang") == "en"
    if isinstance(element.tag, str) and element.get("translate") != "no" and not in_english:
        yield from (element.get(name, "") for name in READ)
        if element.tag not in ("script", "style", "code", "q"):
            yield element.text or ""
            for child in element:
                yield from _texts_in(child)
    yield element.tail or ""


def latin_words(text: str) -> list[str]:
    """Words of a text in Latin letters, without those that stay so in every language."""
    for pattern in LATIN:
        text = re.sub(pattern, " ", text)
    return re.findall(r"[A-Za-z]{3,}", text)


def test_every_page_and_document_has_its_texts_from_the_catalogue(
    client: Client, db: Session, web_app: Flask, greek_shop: Any
):
    pseudo.put_typed_in_greek(db)
    slips: dict[str, str] = {}
    for rule in rules(web_app):
        if takes(rule, "GET") and rule.endpoint.partition(".")[0] not in SILENT:
            answer = client.get(greek_shop.address(rule))
            for text in texts_of(answer) if answer.status_code < 300 else ():
                for word in latin_words(text):
                    slips.setdefault(word, f"{rule.endpoint}: {' '.join(text.split())[:160]}")
    assert not slips, "\n".join(f"{word} in {text}" for word, text in slips.items())


def test_the_help_of_every_command_has_its_texts_from_the_catalogue(tmp_path: Path):
    with pseudo.catalogue(tmp_path), spoken(pseudo.LANGUAGE):
        parsers = cli.parser()._subparsers
        assert parsers is not None
        (commands,) = parsers._group_actions
        assert isinstance(commands.choices, dict)
        slips = {
            name: words
            for name, command in commands.choices.items()
            if (words := _latin_help(command.format_help()))
        }
    assert not slips


def test_a_page_carries_the_texts_of_its_scripts(client: Client, shop: Shop, tmp_path: Path):
    assert client.page("/").tree.get("data-texts") is None
    shop.language = pseudo.LANGUAGE
    with pseudo.catalogue(tmp_path):
        texts = json.loads(client.page("/").tree.get("data-texts"))
    assert texts.keys() == set(script_messages())
    assert not [text for text in texts.values() if latin_words(re.sub(r"\{\w+\}", "", text))]


def _latin_help(text: str) -> list[str]:
    """Words of a command's help that are no option, value or name of argparse's own."""
    own = (
        r"usage: .*?\n\n|positional arguments:|options:|-h, --help.*?exit\n|--?[\w-]+"
        r"|\{[^}]*\}|\b[A-Z]+(\.\w+)?\b|\([\w.-]+\)"
    )
    return latin_words(re.sub(own, " ", text, flags=re.DOTALL))
