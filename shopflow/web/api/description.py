"""The OpenAPI 3.1 description, made of what the addresses declare."""

from __future__ import annotations

import re
from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

from shopflow.models import Scope
from shopflow.units import UNITS
from shopflow.web.api import schema
from shopflow.web.api.endpoint import Endpoint, Query
from shopflow.web.api.problems import MEDIA_TYPE

_PLACE = re.compile(r"<(?:(?P<kind>\w+):)?(?P<name>\w+)>")
PROBLEMS = {
    "400": "A parameter, a header or the body cannot be read.",
    "401": "No token, or one that does not work.",
    "403": "The token has not the scope that this needs.",
    "404": "The record does not exist.",
    "429": "Too many wrong tokens: wait.",
    "503": "The records are out of reach for now: try again.",
}
PROBLEMS_OF_WRITING = {
    "409": "A rule of the shop forbids it now; `detail` says which.",
    "413": "The body is too large.",
    "415": "The body is of another kind.",
    "422": "A field cannot be, which `errors` names; or the Idempotency-Key was used for another "
    "request.",
}
PROBLEMS_OF_REPLACING = {
    "412": "The record changed since its ETag was read (If-Match).",
    "428": "If-Match is missing.",
}
SCOPES = {
    Scope.READ: "reads records, without money",
    Scope.MONEY: "reads quotes, invoices, payments and balances",
    Scope.MEASURE: "adds flow tests, readings, measurements, photos and notes",
    Scope.BENCH: "posts readings of one bench",
}


def describe(endpoints: Sequence[Endpoint]) -> dict[str, Any]:
    """The description of all addresses."""
    schemas: dict[str, schema.Schema] = {"Problem": _problem()}
    paths: dict[str, dict[str, Any]] = {}
    for endpoint in endpoints:
        path = paths.setdefault(_path(endpoint.rule), {})
        path[endpoint.method] = _operation(endpoint, schemas)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "shopflow",
            "version": version("shopflow"),
            "description": _introduction(),
        },
        "servers": [{"url": "/api/1"}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }


def _introduction() -> str:
    scopes = "; ".join(f"`{scope.value}` {words}" for scope, words in SCOPES.items())
    by_dimension: dict[str, list[str]] = {}
    for symbol, unit in UNITS.items():
        by_dimension.setdefault(unit.dimension, []).append(symbol)
    units = "; ".join(f"{name}: {', '.join(symbols)}" for name, symbols in by_dimension.items())
    return (
        f"The shop's records. Each address names the scope its token needs: {scopes}. Numbers are "
        "in the SI unit that `x-unit` names; a quantity as typed is a text of a number and a unit, "
        f"as `28 inH2O`. Units: {units}. Moments are in UTC; money is in the shop's currency."
    )


def _path(rule: str) -> str:
    return _PLACE.sub(r"{\g<name>}", rule)


def _operation(endpoint: Endpoint, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    path_parts = [_path_parameter(part) for part in _PLACE.finditer(endpoint.rule)]
    operation: dict[str, Any] = {
        "operationId": endpoint.name,
        "summary": endpoint.summary,
        "security": [{"token": [scope.value]} for scope in endpoint.scopes],
        "parameters": [*path_parts, *map(_query, endpoint.queries), *_headers(endpoint)],
        "responses": {**_answers(endpoint, schemas), **_problems(endpoint)},
    }
    if endpoint.body is not None:
        operation["requestBody"] = {"required": True, "content": _content(endpoint.body, schemas)}
    return operation


def _answers(endpoint: Endpoint, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    if endpoint.method == "get":
        unchanged = {"description": "Unchanged since the answer with this ETag (If-None-Match)."}
        return {"200": _answer(endpoint, schemas), "304": unchanged}
    content = {endpoint.media_type: {"schema": schema.of(endpoint.shape, schemas)}}
    if endpoint.method == "put":
        return {"200": {"description": endpoint.summary, "content": content}}
    headers = {"Location": {"schema": {"type": "string", "format": "uri-reference"}}}
    return {"201": {"description": endpoint.summary, "headers": headers, "content": content}}


def _answer(endpoint: Endpoint, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    content: dict[str, Any] = {}
    headers: dict[str, Any] = {"ETag": {"schema": {"type": "string"}}}
    if endpoint.shape is not None:
        make = schema.page_of if endpoint.is_page else schema.of
        content = {"schema": make(endpoint.shape, schemas)}
    if endpoint.is_page:
        words = "Addresses of the first page and of the next (RFC 8288)."
        headers["Link"] = {"description": words, "schema": {"type": "string"}}
    return {
        "description": endpoint.summary,
        "headers": headers,
        "content": {endpoint.media_type: content},
    }


def _content(body: type | str, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    if isinstance(body, str):
        return {kind: {} for kind in body.split(", ")}
    return {"application/json": {"schema": schema.of(body, schemas)}}


def _headers(endpoint: Endpoint) -> list[dict[str, Any]]:
    words = {
        "post": ("Idempotency-Key", "One for each record to be added, the same for each repeat."),
        "put": ("If-Match", "ETag of what is replaced, as last read."),
    }
    if endpoint.method not in words:
        return []
    name, description = words[endpoint.method]
    text = {"type": "string", "minLength": 1, "maxLength": 200}
    return [
        {"name": name, "in": "header", "required": True, "description": description, "schema": text}
    ]


def _problems(endpoint: Endpoint) -> dict[str, Any]:
    problems = PROBLEMS
    if endpoint.method != "get":
        problems = problems | PROBLEMS_OF_WRITING
    if endpoint.method == "put":
        problems = problems | PROBLEMS_OF_REPLACING
    return {
        status: {
            "description": words,
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
        for status, words in problems.items()
    }


def _path_parameter(part: re.Match[str]) -> dict[str, Any]:
    kind = "integer" if part["kind"] == "int" else "string"
    return {"name": part["name"], "in": "path", "required": True, "schema": {"type": kind}}


def _query(query: Query) -> dict[str, Any]:
    return {
        "name": query.name,
        "in": "query",
        "description": query.words,
        "schema": dict(query.schema),
    }


def _problem() -> schema.Schema:
    fault = {
        "type": "object",
        "properties": {"field": {"type": "string"}, "detail": {"type": "string"}},
        "required": ["field", "detail"],
    }
    return {
        "type": "object",
        "description": "What went wrong (RFC 9457); `errors` names the fields at fault.",
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "errors": {"type": "array", "items": fault},
        },
        "required": ["type", "title", "status", "detail"],
    }
