"""The client in the guide, run against a real server as it stands there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow.models import Role
from shopflow.resources import GUIDE
from shopflow.services.accounts import api_tokens, users
from shopflow.services.actor import Actor
from tests import factories
from tests.listening import listening


@pytest.fixture
def address(web_app: Flask, database_url: str) -> Iterator[str]:
    """The shop on a real socket."""
    with listening(web_app) as port:
        yield f"http://127.0.0.1:{port}"


def test_the_client_of_the_guide_adds_a_measurement_once(address: str, db: Session):
    text = (GUIDE / "programs.md").read_text(encoding="utf-8")
    match = re.search(r"```python\n(.*?)```", text, re.DOTALL)
    assert match
    client: dict[str, Any] = {}
    exec(compile(match[1], "programs.md", "exec"), client)
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    values = factories.token_values("read", "measure")
    secret = api_tokens.make(db, Actor.now(owner), values)[1]
    tag = factories.create_visit(db).tag
    db.commit()
    shop = client["Shop"](address, secret)
    (measured,) = client["measure"](shop, tag)
    assert (measured["value"]["typed"], measured["place"]) != ("", "")
    record = {"kind": "guide clearance", "value": "0.0030 in", "cylinder": 2}
    path = f"/api/1/visits/{tag}/measurements"
    assert shop.add(path, record, "one") == shop.add(path, record, "one")
    assert len(list(shop.every(f"/api/1/measurements?tag={tag}&limit=1"))) == 2
