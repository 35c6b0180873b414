"""What an address may hold: keys that fit the database, words without a null."""

from __future__ import annotations

from typing import Any

from flask import Flask
from werkzeug.routing import IntegerConverter, Map, UnicodeConverter

LARGEST_KEY = 2**31 - 1
"""The largest INTEGER of PostgreSQL; a larger one is the key of nothing."""


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
    """Use them in every rule; what does not fit is not found."""
    app.url_map.converters.update(int=Key, default=Words, string=Words)
