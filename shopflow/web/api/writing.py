"""Carrying out a request that writes: once for its Idempotency-Key, and alike for each repeat.

The key is the client's (the IETF's draft "The Idempotency-Key HTTP Header Field"), one for each
record that it means to add. It is recorded in the transaction that adds it, with the answer. A
repeat gets that answer; the key with another address or body is refused. Of two requests at the
same moment, the one that loses against the unique constraint is rolled back, and answered as the
other. What was refused records nothing. A `put` needs no key: it replaces what has the ETag it
names in If-Match (RFC 9110, 13.1.1), and is refused where that changed meanwhile.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any

from flask import Response, current_app, json, request
from flask.typing import ResponseReturnValue
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import BadRequest, UnsupportedMediaType

from shopflow.errors import ShopflowError
from shopflow.models import ApiRequest
from shopflow.services.accounts import api_requests
from shopflow.texts import gettext
from shopflow.web.api import bodies, schema
from shopflow.web.api.bearer import program, token
from shopflow.web.api.endpoint import Endpoint, read_arguments
from shopflow.web.api.problems import problem
from shopflow.web.db import db, rollback

KEY = "Idempotency-Key"
LONGEST_KEY = 200
JSON = "application/json"


@dataclass(frozen=True)
class Added:
    """A record that was added: its shape, and the address it has."""

    shape: Any
    location: str


def carry_out(endpoint: Endpoint, view: Callable[..., Any]) -> Callable[..., ResponseReturnValue]:
    """The view of an address that writes, with what all of them have in common."""

    @wraps(view)
    def answer(**path: Any) -> ResponseReturnValue:
        given = {"arguments": read_arguments(endpoint.queries)} if endpoint.queries else {}
        if endpoint.method == "put":
            return _answer(200, schema.plain(view(body=_body(endpoint), **path, **given)), "")
        key, content = _key(), _content_sha256()
        earlier = _recorded_before(key)
        if earlier is not None:
            return _as_before(earlier, content)
        body = _body(endpoint)
        try:
            added: Added = view(body=body, **path, **given)
            return _record(added, key, content)
        except (ShopflowError, IntegrityError, StaleDataError):
            # The same request may have been carried out meanwhile, which is why this was refused.
            rollback()
            earlier = _recorded_before(key)
            if earlier is None:
                raise
            return _as_before(earlier, content)

    return answer


def _body(endpoint: Endpoint) -> Any:
    """The body sent: a shape read from JSON, or the bytes of a file."""
    if isinstance(endpoint.body, str):
        if request.mimetype not in endpoint.body.split(", "):
            raise UnsupportedMediaType(gettext("Send one of {kinds}.", kinds=endpoint.body))
        return request.get_data(cache=False)
    if request.mimetype != JSON:
        raise UnsupportedMediaType(gettext("Send {kinds}.", kinds=JSON))
    return bodies.read(endpoint.body or dict, bodies.parse(request.get_data()))


def _key() -> str:
    key = request.headers.get(KEY, "").strip()
    if not 0 < len(key) <= LONGEST_KEY:
        raise BadRequest(
            gettext(
                "Send a key of at most {most} characters in the header {header}: one for each "
                "record to be added, and the same where it is sent again.",
                most=LONGEST_KEY,
                header=KEY,
            )
        )
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def _content_sha256() -> str:
    address = f"{request.method} {request.full_path}\n".encode("utf-8", "replace")
    return hashlib.sha256(address + request.get_data()).hexdigest()


def _recorded_before(key: str) -> ApiRequest | None:
    """The request with this key, where one was carried out; nobody waits to write for it."""
    with current_app.extensions["shopflow.reading"]() as reading:
        return api_requests.find(reading, token().id, key)


def _as_before(earlier: ApiRequest, content: str) -> Response:
    if earlier.content_sha256 != content:
        words = gettext("The {header} was used for another request: take a new one.", header=KEY)
        return problem(422, words)
    return _answer(earlier.status, json.loads(earlier.answer), earlier.location)


def _record(added: Added, key: str, content: str) -> Response:
    # Flushed first: what the database gives to a new record is in the answer.
    db().flush()
    plain = schema.plain(added.shape())
    done = ApiRequest(
        token_id=token().id,
        key_sha256=key,
        content_sha256=content,
        status=201,
        location=added.location,
        answer=json.dumps(plain),
        at=program().at,
    )
    if api_requests.record(db(), done):
        return _answer(201, plain, added.location)
    rollback()
    earlier = _recorded_before(key)
    if earlier is None:
        return problem(409, gettext("The same request is being carried out: send it again."))
    return _as_before(earlier, content)


def _answer(status: int, content: Any, location: str) -> Response:
    response = Response(json.dumps(content), status, mimetype=JSON)
    if location:
        response.headers["Location"] = location
    return response
