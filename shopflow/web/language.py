"""The language of pages: that of the shop."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

from flask import Flask, current_app, request

from shopflow import texts
from shopflow.services.shop.settings import language, shop_or_none
from shopflow.web import assets
from shopflow.web.context import current_shop
from shopflow.web.db import READING_METHODS

SCRIPTS = Path(__file__).parent / "static" / "js"


def init_app(app: Flask) -> None:
    """Let templates mark their texts, and have each request in the shop's language.

    Line breaks within a text are its layout alone.
    """
    environment: Any = app.jinja_env
    environment.policies["ext.i18n.trimmed"] = True
    environment.install_gettext_callables(texts.translated, texts.counted, newstyle=True)
    app.add_template_global(page_language)
    app.add_template_global(script_texts)
    app.before_request(_speak)
    app.teardown_request(_fall_silent)


def page_language() -> str:
    """The language texts are in, as HTML names it: "en-US"."""
    return texts.language().replace("_", "-")


@cache
def script_messages() -> tuple[str, ...]:
    """Texts of the scripts, as they are marked in them."""
    marked = re.compile(r'\bgettext\("([^"]+)"')
    scripts = sorted(SCRIPTS.glob("*.js"))
    return tuple(text for path in scripts for text in marked.findall(path.read_text("utf-8")))


def script_texts() -> dict[str, str]:
    """Texts of the scripts that are others in the language of the page."""
    pairs = ((text, texts.translated(text)) for text in script_messages())
    return {text: translation for text, translation in pairs if translation != text}


def _speak() -> None:
    if request.endpoint not in assets.ENDPOINTS:
        texts.speak(_shops_language())


def _shops_language() -> str:
    if request.method in READING_METHODS:
        return language(current_shop())
    # What was sent may still be on its way: a transaction that writes would keep others waiting.
    with current_app.extensions["shopflow.reading"]() as apart:
        return language(shop_or_none(apart))


def _fall_silent(error: BaseException | None) -> None:
    """Leave no language to the next request of this thread."""
    texts.speak(texts.SOURCE)
