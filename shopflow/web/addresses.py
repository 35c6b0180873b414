"""Limits on what an address may hold: keys that fit the database, words without a null."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from flask import Flask, url_for
from werkzeug.routing import IntegerConverter, Map, UnicodeConverter

LARGEST_KEY = 2**31 - 1
"""The largest INTEGER of PostgreSQL; a larger one is the key of nothing."""

_ANY = str(LARGEST_KEY)
"""Stands for a row's word or key, whichever a rule asks for."""

_AS_IT_IS = "!$&'()*+,/:;=@"
"""Characters that werkzeug's converters leave as they are in an address."""


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


def addresses(endpoint: str, name: str) -> Callable[[str | int], str]:
    """The addresses of a list's rows, that differ in one word or key: as `url_for`, asked once."""
    values: dict[str, Any] = {name: _ANY}
    before, _, after = url_for(endpoint, **values).rpartition(_ANY)
    return lambda of: f"{before}{quote(str(of), safe=_AS_IT_IS)}{after}"
