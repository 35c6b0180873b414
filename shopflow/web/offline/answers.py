"""Answers to the queue: a script cannot read a redirect, and a kept page must say whose it is."""

from __future__ import annotations

from flask import Flask, Response, g, request, url_for

QUEUE = "X-Queue"
"""Header of a request that the queue sends."""


def init_app(app: Flask) -> None:
    """Answer the queue without redirects; name the user of each page."""
    app.after_request(_plain_answer)
    app.after_request(_name_person)


def from_queue() -> bool:
    """True where the queue of a browser sent this request."""
    return QUEUE in request.headers


def _plain_answer(response: Response) -> Response:
    if not from_queue() or not 300 <= response.status_code < 400:
        return response
    address = (response.location or "").partition("?")[0]
    is_signed_out = address.endswith(url_for("account.sign_in"))
    answer = Response(status=401 if is_signed_out else 201, mimetype="text/plain")
    answer.headers["Location"] = response.location or ""
    return answer


def _name_person(response: Response) -> Response:
    if response.mimetype == "text/html" and request.method == "GET":
        # An answer asks the database nothing: it may be of a database that is away.
        sign_in = g.get("sign_in")
        if sign_in is not None:
            response.headers["X-Person"] = str(sign_in.person_id)
    return response
