"""The language a document is drawn in: the one it carries, whoever prints it and whenever."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, Protocol, TypeVar

from shopflow.documents import Display
from shopflow.texts import spoken


class Displayed(Protocol):
    """A document, with how it shows values."""

    @property
    def display(self) -> Display:
        """Its units, formats and language."""


Document = TypeVar("Document", bound=Displayed)
Options = ParamSpec("Options")


def in_its_language(
    draw: Callable[Concatenate[Document, Options], bytes],
) -> Callable[Concatenate[Document, Options], bytes]:
    """Draw a document with its texts in the language it carries."""

    @wraps(draw)
    def drawn(document: Document, /, *args: Options.args, **options: Options.kwargs) -> bytes:
        with spoken(document.display.language):
            return draw(document, *args, **options)

    return drawn
