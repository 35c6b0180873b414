"""Declaring an address of the programming interface: its route and its description are one."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Any

from flask import Blueprint, Response, json, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy import Select

from shopflow.models import Scope
from shopflow.web.api import schema, writing
from shopflow.web.api.endpoint import PAGING, USUAL_LIMIT, Endpoint, Query, read_arguments
from shopflow.web.db import db

READ = (Scope.READ,)


class Interface:
    """The addresses, in the order they are declared."""

    def __init__(self, blueprint: Blueprint) -> None:
        self.blueprint = blueprint
        self.endpoints: list[Endpoint] = []

    def record(
        self, rule: str, summary: str, shape: Any, *queries: Query, scopes: Sequence[Scope] = READ
    ) -> Callable[[Any], Any]:
        """An address that answers with one shape, which its view returns."""

        def declare(view: Callable[..., Any]) -> Callable[..., Any]:
            @wraps(view)
            def answer(**path: Any) -> ResponseReturnValue:
                arguments = read_arguments(queries)
                given = {"arguments": arguments} if queries else {}
                return answered(schema.plain(view(**path, **given)))

            endpoint = Endpoint(rule, view.__name__, summary, shape, queries=queries, scopes=scopes)
            return self._add(endpoint, answer)

        return declare

    def page(
        self, rule: str, summary: str, shape: Any, *queries: Query, scopes: Sequence[Scope] = READ
    ) -> Callable[[Any], Any]:
        """An address that answers page by page; its view returns a SELECT of rows with an id."""

        def declare(view: Callable[..., Select[Any]]) -> Callable[..., Any]:
            asked = (*PAGING, *queries)
            endpoint = Endpoint(rule, view.__name__, summary, shape, True, asked, scopes=scopes)

            @wraps(view)
            def answer() -> ResponseReturnValue:
                arguments = read_arguments(endpoint.queries)
                paging = {name: arguments.pop(name, None) for name in ("limit", "after")}
                content = _page(endpoint, view(arguments), paging, shape)
                return linked(answered(content), content["next"])

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

    def writes(
        self,
        rule: str,
        summary: str,
        body: type | str,
        shape: Any,
        *queries: Query,
        scopes: Sequence[Scope],
        method: str = "post",
    ) -> Callable[[Any], Any]:
        """An address that adds a record, or with `put` replaces one; see `writing`."""

        def declare(view: Callable[..., Any]) -> Callable[..., Any]:
            endpoint = Endpoint(
                rule, view.__name__, summary, shape, queries=queries, scopes=scopes,
                method=method, body=body,
            )  # fmt: skip
            return self._add(endpoint, writing.carry_out(endpoint, view))

        return declare

    def _add(self, endpoint: Endpoint, answer: Callable[..., Any]) -> Callable[..., Any]:
        self.endpoints.append(endpoint)
        self.blueprint.route(endpoint.rule, endpoint=endpoint.name, methods=[endpoint.method])(
            answer
        )
        return answer

    def scopes_of(self, name: str) -> Sequence[Scope]:
        """Scopes of which a token needs one, by the name of an address."""
        return next((item.scopes for item in self.endpoints if item.name == name), ())


def answered(content: Any) -> Response:
    """An answer in JSON."""
    return _marked(Response(json.dumps(content), mimetype="application/json"))


def etag_of(shape: Any) -> str:
    """ETag that an answer of this shape has."""
    return _digest(json.dumps(schema.plain(shape)).encode())


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:32]


def linked(response: Response, following: str | None) -> Response:
    """An answer with the addresses of its first page and its next one (RFC 8288)."""
    response.headers.add("Link", f'<{url_for(request.endpoint or "", **_first())}>; rel="first"')
    if following:
        response.headers.add("Link", f'<{following}>; rel="next"')
    return response


def _first() -> dict[str, Any]:
    return {name: value for name, value in request.args.items() if name != "after"}


def _marked(response: Response) -> Response:
    """An answer known by its bytes: asked for again unchanged, it is not sent again."""
    response.set_etag(_digest(response.get_data()))
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
