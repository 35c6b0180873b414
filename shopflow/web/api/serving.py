"""Declaring an address of the programming interface: its route and its description are one."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any

from flask import Blueprint, Response, json, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy import Select
from werkzeug.exceptions import BadRequest

from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.api import schema
from shopflow.web.db import db

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


def text(name: str, words: str) -> Query:
    """A text to look for."""
    return Query(name, words, {"type": "string", "maxLength": 200}, fields.text())


def key(name: str, words: str) -> Query:
    """The key of a record."""
    bounds = {"type": "integer", "minimum": 0, "maximum": LARGEST_KEY}
    return Query(name, words, bounds, _whole_number(0, LARGEST_KEY))


def among(name: str, words: str, *choices: str) -> Query:
    """One of some words."""
    return Query(name, words, {"type": "string", "enum": list(choices)}, fields.among(*choices))


def _whole_number(least: int, most: int) -> fields.Reader:
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
        _whole_number(1, MOST),
    ),
    key("after", "Key of the last item of the page before."),
)


class Interface:
    """The addresses, in the order they are declared."""

    def __init__(self, blueprint: Blueprint) -> None:
        self.blueprint = blueprint
        self.endpoints: list[Endpoint] = []

    def record(self, rule: str, summary: str, shape: Any) -> Callable[[Any], Any]:
        """An address that answers with one shape, which its view returns."""

        def declare(view: Callable[..., Any]) -> Callable[..., Any]:
            @wraps(view)
            def answer(**path: Any) -> ResponseReturnValue:
                read_arguments(())
                return answered(schema.plain(view(**path)))

            return self._add(Endpoint(rule, view.__name__, summary, shape), answer)

        return declare

    def page(self, rule: str, summary: str, shape: Any, *queries: Query) -> Callable[[Any], Any]:
        """An address that answers page by page; its view returns a SELECT of rows with an id."""

        def declare(view: Callable[..., Select[Any]]) -> Callable[..., Any]:
            endpoint = Endpoint(rule, view.__name__, summary, shape, True, (*PAGING, *queries))

            @wraps(view)
            def answer() -> ResponseReturnValue:
                arguments = read_arguments(endpoint.queries)
                paging = {name: arguments.pop(name, None) for name in ("limit", "after")}
                return answered(_page(endpoint, view(arguments), paging, shape))

            return self._add(endpoint, answer)

        return declare

    def file(self, rule: str, summary: str, media_type: str) -> Callable[[Any], Any]:
        """An address that answers with a file, whose bytes its view returns."""

        def declare(view: Callable[..., bytes]) -> Callable[..., Any]:
            @wraps(view)
            def answer(**path: Any) -> ResponseReturnValue:
                read_arguments(())
                return _marked(Response(view(**path), mimetype=media_type))

            endpoint = Endpoint(rule, view.__name__, summary, None, media_type=media_type)
            return self._add(endpoint, answer)

        return declare

    def _add(self, endpoint: Endpoint, answer: Callable[..., Any]) -> Callable[..., Any]:
        self.endpoints.append(endpoint)
        self.blueprint.get(endpoint.rule)(answer)
        return answer


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


def answered(content: Any) -> Response:
    """An answer in JSON."""
    return _marked(Response(json.dumps(content), mimetype="application/json"))


def _marked(response: Response) -> Response:
    """An answer known by its bytes: asked for again unchanged, it is not sent again."""
    response.set_etag(hashlib.sha256(response.get_data()).hexdigest()[:32])
    response.make_conditional(request)
    return response


def _page(
    endpoint: Endpoint, query: Select[Any], paging: Mapping[str, Any], shape: Any
) -> dict[str, Any]:
    model = query.column_descriptions[0]["entity"]
    limit = paging["limit"] or USUAL_LIMIT
    rest = query.where(model.id > (paging["after"] or 0)).order_by(model.id).limit(limit + 1)
    rows = list(db().scalars(rest).unique())
    following = None
    if len(rows) > limit:
        arguments = {**request.args.to_dict(), "after": rows[limit - 1].id}
        following = url_for(f"api.{endpoint.name}", **arguments)
    return {"items": [schema.plain(shape.of(row)) for row in rows[:limit]], "next": following}
