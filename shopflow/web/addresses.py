"""What an address may hold: keys that fit the database, words without a null."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from flask import Flask, url_for
from werkzeug.routing import IntegerConverter, Map, UnicodeConverter

LARGEST_KEY = 2**31 - 1
"""The largest INTEGER of PostgreSQL; a larger one is the key of nothing."""


_WORD = "~word~"
_AS_IT_IS = "!$&'()*+,/:;=@"
"""What werkzeug's converters leave as it is in an address."""


class Key(IntegerConverter):
    """A row's key."""

    def __init__(self, map: Map, max: int = LARGEST_KEY, **rest: Any) -> None:
        super().__init__(map, max=max, **rest)


class Words(UnicodeConverter):
    """One part of a path; a null in it would be an error to PostgreSQL, not merely unknown."""

    def __init__(self, map: Map, *arguments: Any, **rest: Any) -> None:
        super().__init__(map, *arguments, **rest)
        self.regex = self.regex.replace("[^/]", r"[^/\x00]")


def init_app(app: Flask) -> None:
    """Use them in every rule; what does not fit is not found. Templates may ask for `addresses`."""
    app.url_map.converters.update(int=Key, default=Words, string=Words)
    app.add_template_global(addresses)


def addresses(endpoint: str, name: str) -> Callable[[str], str]:
    """The addresses of a list's rows, that differ in one word: as `url_for`, asked for once."""
    values: dict[str, Any] = {name: _WORD}
    before, _, after = url_for(endpoint, **values).rpartition(_WORD)
    return lambda word: f"{before}{quote(word, safe=_AS_IT_IS)}{after}"
