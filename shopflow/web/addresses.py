"""Limits on what an address may hold, and the addresses of earlier releases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from flask import Flask, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.routing import IntegerConverter, Map, UnicodeConverter
from werkzeug.wrappers import Response

LARGEST_KEY = 2**31 - 1
"""The largest INTEGER of PostgreSQL; a larger one is the key of nothing."""

MOVED = {
    "operation-kinds": "step-kinds",
    "operations": "steps",
    "routings": "work-plans",
    "sessions": "flow-tests",
    "sums": "calculators",
    "tokens": "api-tokens",
    "waits": "holds",
}
"""First parts of addresses in release 0.1, each with the one it has now: bookmarks stay good."""

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
    app.before_request(_lead_on)
    app.url_map.converters.update(int=Key, default=Words, string=Words)
    app.add_template_global(addresses)


def addresses(endpoint: str, name: str) -> Callable[[str | int], str]:
    """The addresses of a list's rows, that differ in one word or key: as `url_for`, asked once."""
    values: dict[str, Any] = {name: _ANY}
    before, _, after = url_for(endpoint, **values).rpartition(_ANY)
    return lambda of: f"{before}{quote(str(of), safe=_AS_IT_IS)}{after}"


def _lead_on() -> Response | None:
    """Redirect an address of an earlier release to the page as it is called now."""
    first, slash, rest = request.path[1:].partition("/")
    if first not in MOVED or not isinstance(request.routing_exception, NotFound):
        return None
    query = request.query_string.decode("latin-1")
    address = quote(f"/{MOVED[first]}{slash}{rest}", safe=_AS_IT_IS)
    return redirect(f"{address}?{query}" if query else address, 301)
