"""The programming interface under a fuzzer: each answer is as described, and never a 500.

schemathesis makes requests from the OpenAPI description, valid ones and ones it does not allow; the
shop behind it is filled, and the token may do everything but post for a bench.
"""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, Phase, given, settings
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import Role, Visit
from shopflow.services.accounts import api_tokens, users
from shopflow.services.actor import Actor
from shopflow.web.api.description import describe
from shopflow.web.api.routes import interface
from tests import factories
from tests.optional import present
from tests.web.test_api import database_url, filled_file

__all__ = ["database_url", "filled_file"]

SCHEMA = schemathesis.openapi.from_dict(describe(interface.endpoints))
_READ: list[Any] = [*SCHEMA.get_all_operations()]
OPERATIONS = [item.ok() for item in _READ]
EACH = 25
"""Requests to each address."""


@pytest.fixture
def headers(db: Session) -> dict[str, str]:
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    values = factories.token_values("read", "money", "measure")
    secret = api_tokens.make(db, Actor.now(owner), values)[1]
    db.commit()
    return {"Authorization": f"Bearer {secret}"}


@pytest.mark.slow
@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda item: item.label)
def test_what_a_fuzzer_sends_is_answered_as_described(
    web_app: Flask, db: Session, headers: dict[str, str], operation: Any
):
    tag = db.scalars(select(Visit.tag).limit(1)).one()
    db.rollback()
    described = {int(status) for status in operation.definition.raw["responses"]}
    client = web_app.test_client()
    statuses: set[int] = set()

    @settings(
        max_examples=EACH, database=None, phases=(Phase.generate,),
        suppress_health_check=[*HealthCheck],
    )  # fmt: skip
    @given(case=operation.as_strategy())
    def send(case: Any) -> None:
        # Half of the requests reach a head that is there.
        if "tag" in (case.path_parameters or {}) and len(statuses) % 2 == 0:
            case.path_parameters["tag"] = tag
        request = case.as_transport_kwargs(base_url="http://localhost")
        answer = client.open(
            request["url"].removeprefix("http://localhost/api/1").join(["/api/1", ""]),
            method=request["method"],
            headers={**(request.get("headers") or {}), **headers},
            query_string=request.get("params"),
            **_body(request),
        )
        statuses.add(answer.status_code)
        # Werkzeug's own 404 and 405 for addresses that are none.
        assert answer.status_code in described | {304, 404, 405}, (answer.status_code, answer.text)
        if answer.status_code >= 400:
            assert answer.mimetype == "application/problem+json"
            assert present(answer.json)["status"] == answer.status_code

    send()
    assert statuses


def _body(request: dict[str, Any]) -> dict[str, Any]:
    """The body as werkzeug's client takes it."""
    if request.get("json") is not None:
        return {"json": request["json"]}
    return {"data": request["data"]} if request.get("data") else {}
