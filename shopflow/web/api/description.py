"""The OpenAPI 3.1 description, made of what the addresses declare."""

from __future__ import annotations

import re
from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

from shopflow.web.api import schema
from shopflow.web.api.problems import MEDIA_TYPE
from shopflow.web.api.serving import Endpoint, Query

_PLACE = re.compile(r"<(?:(?P<kind>\w+):)?(?P<name>\w+)>")
PROBLEMS = {"400": "A parameter cannot be read.", "401": "No token, or one that does not work.",
            "404": "The record does not exist.", "429": "Too many wrong tokens: wait."}  # fmt: skip


def describe(endpoints: Sequence[Endpoint]) -> dict[str, Any]:
    """The description of all addresses."""
    schemas: dict[str, schema.Schema] = {"Problem": _problem()}
    paths = {_path(endpoint.rule): {"get": _operation(endpoint, schemas)} for endpoint in endpoints}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "shopflow",
            "version": version("shopflow"),
            "description": "The shop's records, read-only. Quantities are as typed beside SI "
            "values; moments are in UTC; money is in the shop's currency.",
        },
        "servers": [{"url": "/api/1"}],
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
        },
    }


def _path(rule: str) -> str:
    return _PLACE.sub(r"{\g<name>}", rule)


def _operation(endpoint: Endpoint, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    path_parts = [_path_parameter(part) for part in _PLACE.finditer(endpoint.rule)]
    unchanged = {"description": "Unchanged since the answer with this ETag (If-None-Match)."}
    problems = {
        status: {
            "description": words,
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
        for status, words in PROBLEMS.items()
    }
    return {
        "operationId": endpoint.name,
        "summary": endpoint.summary,
        "parameters": [*path_parts, *map(_query, endpoint.queries)],
        "responses": {"200": _answer(endpoint, schemas), "304": unchanged, **problems},
    }


def _answer(endpoint: Endpoint, schemas: dict[str, schema.Schema]) -> dict[str, Any]:
    content: dict[str, Any] = {}
    if endpoint.shape is not None:
        make = schema.page_of if endpoint.is_page else schema.of
        content = {"schema": make(endpoint.shape, schemas)}
    return {
        "description": endpoint.summary,
        "headers": {"ETag": {"schema": {"type": "string"}}},
        "content": {endpoint.media_type: content},
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
    return {
        "type": "object",
        "description": "What went wrong (RFC 9457).",
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
        },
        "required": ["type", "title", "status", "detail"],
    }
