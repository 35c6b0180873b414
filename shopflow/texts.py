"""Texts in the reader's language; the one place that opens a catalogue.

The source is US English: a text is in the code as a US shop reads it. A catalogue
`translations/LANGUAGE/LC_MESSAGES/messages.po` gives every text in another language. It is read
when first needed and kept, never compiled to a file that could fall behind.

The language is a context variable, set to the shop's by each request and command, and for what is
issued or sent; every layer below asks `gettext` without being handed a language. A text made
before anyone reads it, as a label of a form or a word of a table, is `lazy`; a word that is stored
as it is, as the state of a job, is marked by `gettext_noop` and translated where it is shown.

Babel is imported where a catalogue or a date first needs it: commands that speak the source alone
start without it. Nothing here knows the web or the database, so that every layer may ask for its
texts, calculations too.

Placeholders are those of `str.format`, so that a translation can move them:
`gettext("Enter {least} or more", least=3)`. Templates use Jinja's own, `%(least)s`.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from enum import Enum
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

    A member of an enumeration among the values is put in by its word in that language.

    >>> gettext("Enter {least} or more", least=3)
    'Enter 3 or more'
    """
    return _filled(translated(message), values)


def ngettext(text: str, many: str, num: int, **values: Any) -> str:
    """A text for a count, in the plural form its language has for it; `{num}` is the count.

    >>> ngettext("{num} head", "{num} heads", 2)
    '2 heads'
    """
    return _filled(counted(text, many, num), {"num": num, **values})


def translated(message: str) -> str:
    """A text in the language of its reader, its placeholders left as they are."""
    # An empty message is a catalogue's own description.
    return catalogue(language()).gettext(message) if message else ""


def counted(text: str, many: str, num: int) -> str:
    """A text in the plural form of a count, its placeholders left as they are."""
    return catalogue(language()).ngettext(text, many, num)


def lazy(message: str, **values: Any) -> Any:
    """A text made into words only where it is read, for labels and tables of words."""
    return _Lazy(message, values)


def listed(words: Iterable[str]) -> str:
    """Words as one reads them.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *before, last = map(str, words)
    if not before:
        return last
    return gettext("{before} and {last}", before=", ".join(before), last=last)


def gettext_noop(text: str) -> str:
    """Mark a word that is stored as it is, as of an enumeration; `translated(value)` shows it."""
    return text


class _Lazy:
    """A text in the language of whoever reads it, usable as a string."""

    __slots__ = ("_message", "_values")

    def __init__(self, message: str, values: dict[str, Any]) -> None:
        self._message = message
        self._values = values

    def __str__(self) -> str:
        return gettext(self._message, **self._values)

    def __repr__(self) -> str:
        return f"lazy({self._message!r})"

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return getattr(str(self), name)

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    def __eq__(self, other: object) -> bool:
        return str(self) == str(other) if isinstance(other, str | _Lazy) else NotImplemented

    def __hash__(self) -> int:
        return hash(str(self))

    def __lt__(self, other: Any) -> bool:
        return str(self) < str(other)

    def __bool__(self) -> bool:
        return bool(str(self))

    def __len__(self) -> int:
        return len(str(self))

    def __contains__(self, part: str) -> bool:
        return part in str(self)

    def __getitem__(self, key: Any) -> str:
        return str(self)[key]

    def __add__(self, other: object) -> str:
        return str(self) + str(other)

    def __radd__(self, other: object) -> str:
        return str(other) + str(self)


def day(value: date, *, year: bool = True) -> str:
    """A date in words, as the language of its reader orders it.

    >>> day(date(2026, 3, 5))
    'Mar 5, 2026'
    """
    from babel.dates import format_date

    pattern = DAYS[language()][0 if year else 1]
    return str(format_date(value, pattern, locale=language()))


def month(day_of_it: date) -> str:
    """A month in words, with its year.

    >>> month(date(2026, 3, 1))
    'Mar 2026'
    """
    from babel.dates import format_date

    return str(format_date(day_of_it, "MMM yyyy", locale=language()))


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
    if not values:
        return text
    return text.format(**{name: _worded(value) for name, value in values.items()})


def _worded(value: Any) -> Any:
    return translated(value.value) if isinstance(value, Enum) else value
