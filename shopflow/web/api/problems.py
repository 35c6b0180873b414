"""Problem details in a form that programs read: RFC 9457."""

from __future__ import annotations

from http import HTTPStatus

from flask import Response, json, request

PREFIX = "/api/"
MEDIA_TYPE = "application/problem+json"


def is_asked() -> bool:
    """True where the request came to the programming interface, and is answered in its form."""
    return request.path.startswith(PREFIX)


def problem(status: int, detail: str) -> Response:
    """A problem's answer; its title is the status's own name."""
    content = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    return Response(json.dumps(content), status, mimetype=MEDIA_TYPE)
