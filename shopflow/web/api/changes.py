"""Changes of records since a cursor."""

from __future__ import annotations

from typing import Any

from shopflow.models import Scope
from shopflow.services import changes
from shopflow.web.api import shapes
from shopflow.web.api.bearer import token
from shopflow.web.api.endpoint import MOST, Query, whole_number
from shopflow.web.api.interface import interface
from shopflow.web.db import db

LARGEST_CURSOR = 10**11
SINCE = Query(
    "since",
    "Cursor of the answer before; 0 for all there ever were, none for the latest cursor alone.",
    {"type": "integer", "minimum": 0, "maximum": LARGEST_CURSOR},
    whole_number(0, LARGEST_CURSOR),
)
LIMIT = Query(
    "limit",
    f"Changes at most; {MOST} where it is not given.",
    {"type": "integer", "minimum": 1, "maximum": MOST},
    whole_number(1, MOST),
)


@interface.record(
    "/changes", "Changes since a cursor", shapes.Changes, SINCE, LIMIT,
    scopes=(Scope.READ, Scope.MONEY),
)  # fmt: skip
def list_changes(arguments: dict[str, Any]) -> shapes.Changes:
    """Changes of the records that the token may read."""
    if "since" not in arguments:
        return shapes.Changes([], changes.latest(db()), more=False)
    kinds = changes.READ if token().allows(Scope.READ) else {}
    if token().allows(Scope.MONEY):
        kinds = kinds | changes.MONEY
    limit = arguments.get("limit", MOST)
    return shapes.Changes.of(changes.since(db(), arguments["since"], kinds, limit))
