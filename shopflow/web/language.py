"""The language of pages: that of the shop."""

from __future__ import annotations

from typing import Any

from flask import Flask

from shopflow import texts


def init_app(app: Flask) -> None:
    """Let templates mark their texts; line breaks within one are its layout alone."""
    environment: Any = app.jinja_env
    environment.policies["ext.i18n.trimmed"] = True
    environment.install_gettext_callables(texts.translated, texts.counted, newstyle=True)
    app.context_processor(lambda: {"language": texts.language()})
