"""Problem details in a form that programs read: RFC 9457."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from flask import Response, json, request

from shopflow.errors import FieldError

PREFIX = "/api/"
MEDIA_TYPE = "application/problem+json"


def is_asked() -> bool:
    """True where the request came to the programming interface, and is answered in its form."""
    return request.path.startswith(PREFIX)


def problem(status: int, detail: str, faults: Sequence[FieldError] = ()) -> Response:
    """A problem's answer; its title is the status's own name, its `errors` name fields."""
    content: dict[str, Any] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    if faults:
        content["errors"] = [{"field": fault.key, "detail": fault.message} for fault in faults]
    return Response(json.dumps(content), status, mimetype=MEDIA_TYPE)
