"""Declarations of the programming interface: of each address its answer, parameters and scopes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import request
from werkzeug.exceptions import BadRequest

from shopflow.models import Scope
from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.web.addresses import LARGEST_KEY

USUAL_LIMIT = 50
MOST = 200


@dataclass(frozen=True)
class Query:
    """A parameter in the address behind the question mark."""

    name: str
    words: str
    schema: Mapping[str, Any]
    read: fields.Reader


@dataclass(frozen=True)
class Endpoint:
    """One address: what it answers with and what may be asked."""

    rule: str
    name: str
    summary: str
    shape: type | None
    is_page: bool = False
    queries: Sequence[Query] = ()
    media_type: str = "application/json"
    scopes: Sequence[Scope] = (Scope.READ,)
    """A token needs one of them."""

    method: str = "get"
    body: type | str | None = None
    """Shape of the body in JSON, or its media types; none where nothing is sent."""


def text(name: str, words: str) -> Query:
    """A text to look for."""
    return Query(name, words, {"type": "string", "maxLength": 200}, fields.text())


def key(name: str, words: str) -> Query:
    """The key of a record."""
    bounds = {"type": "integer", "minimum": 0, "maximum": LARGEST_KEY}
    return Query(name, words, bounds, whole_number(0, LARGEST_KEY))


def among(name: str, words: str, *choices: str) -> Query:
    """One of some words."""
    return Query(name, words, {"type": "string", "enum": list(choices)}, fields.among(*choices))


def whole_number(least: int, most: int) -> fields.Reader:
    """A reader of a whole number within bounds."""

    def reader(value: Any) -> int:
        if not str(value).isascii() or not str(value).isdecimal():
            raise ValueError(gettext("'{value}' is not a whole number", value=value))
        # Longer digits are past every bound.
        number = int(str(value)[:12])
        if not least <= number <= most:
            raise ValueError(
                gettext("a whole number from {least} to {most}", least=least, most=most)
            )
        return number

    return reader


PAGING = (
    Query(
        "limit",
        f"Items on a page; {USUAL_LIMIT} where it is not given.",
        {"type": "integer", "minimum": 1, "maximum": MOST},
        whole_number(1, MOST),
    ),
    key("after", "Key of the last item of the page before."),
)


def read_arguments(queries: Sequence[Query]) -> dict[str, Any]:
    """The parameters given, read. Raises BadRequest naming every one that cannot be."""
    by_name = {query.name: query for query in queries}
    specification = {name: query.read for name, query in by_name.items()}
    faults, arguments = [], {}
    for name, value in request.args.items():
        try:
            if name not in specification:
                raise ValueError(gettext("this parameter does not exist"))
            arguments[name] = specification[name](value)
        except ValueError as error:
            faults.append(f"{name}: {error}")
    if faults:
        raise BadRequest("; ".join(faults))
    return arguments
