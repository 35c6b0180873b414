"""Texts in the reader's language; the one place that opens a catalogue.

The source is US English: a text is in the code as a US shop reads it. A catalogue
`translations/LANGUAGE/LC_MESSAGES/messages.po` gives every text in another language. It is read
when first needed and kept, never compiled to a file that could fall behind.

The language is a context variable, set to the shop's by each request and command, and for what is
issued or sent; every layer below asks `gettext` without being handed a language. A text made
before anyone reads it, as a label of a form or a word of a table, is `lazy`.

Babel is imported where a catalogue, a date or a lazy text first needs it: commands that speak the
source alone start without it.

Placeholders are those of `str.format`, so that a translation can move them:
`gettext("Enter {least} or more", least=3)`. Templates use Jinja's own, `%(least)s`.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cache
from gettext import NullTranslations
from pathlib import Path
from typing import Any

SOURCE = "en_US"
DAYS = {"en_US": ("MMM d, yyyy", "MMM d"), "en_GB": ("d MMM yyyy", "d MMM")}
"""Dates as each language writes them, with the year and without: patterns of the Unicode locale
data; none can be misread."""

LANGUAGES = {"en_US": "English (United States)", "en_GB": "English (United Kingdom)"}
FOLDER = Path(__file__).parent / "translations"

_language: ContextVar[str] = ContextVar("language", default=SOURCE)


def language() -> str:
    """The language texts are in just now: a key of LANGUAGES."""
    return _language.get()


def speak(chosen: str) -> None:
    """Have texts in this language from now on, in this thread or task."""
    _language.set(chosen)


@contextmanager
def spoken(chosen: str) -> Iterator[None]:
    """Have texts in this language for a while, as for one document."""
    token = _language.set(chosen)
    try:
        yield
    finally:
        _language.reset(token)


def gettext(message: str, **values: Any) -> str:
    """A text in the language of its reader, its placeholders filled in.

    >>> gettext("Enter {least} or more", least=3)
    'Enter 3 or more'
    """
    return _filled(translated(message), values)


def ngettext(one: str, many: str, num: int, **values: Any) -> str:
    """A text for a count, in the plural form its language has for it; `{num}` is the count.

    >>> ngettext("{num} head", "{num} heads", 2)
    '2 heads'
    """
    return _filled(counted(one, many, num), {"num": num, **values})


def translated(message: str) -> str:
    """A text in the language of its reader, its placeholders left as they are."""
    return catalogue(language()).gettext(message)


def counted(one: str, many: str, num: int) -> str:
    """A text in the plural form of a count, its placeholders left as they are."""
    return catalogue(language()).ngettext(one, many, num)


def lazy(message: str, **values: Any) -> Any:
    """A text made into words only where it is read, for labels and tables of words."""
    from babel.support import LazyProxy

    return LazyProxy(gettext, message, enable_cache=False, **values)


def day(found: date, *, year: bool = True) -> str:
    """A date in words, as the language of its reader orders it.

    >>> day(date(2026, 3, 5))
    'Mar 5, 2026'
    """
    from babel.dates import format_date

    pattern = DAYS[language()][0 if year else 1]
    return str(format_date(found, pattern, locale=language()))


@cache
def catalogue(chosen: str) -> NullTranslations:
    """The texts of a language; those of the source are in the code."""
    if chosen == SOURCE:
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po
    from babel.support import Translations

    compiled = io.BytesIO()
    with (FOLDER / chosen / "LC_MESSAGES" / "messages.po").open("rb") as file:
        write_mo(compiled, read_po(file, locale=chosen))
    return Translations(io.BytesIO(compiled.getvalue()))


def _filled(text: str, values: dict[str, Any]) -> str:
    return text.format(**values) if values else text
