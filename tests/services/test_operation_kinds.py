"""Kinds of operation: the shop's own, and the built-in ones."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.services.actor import Actor
from shopflow.services.routing import operation_kinds, operations
from shopflow.services.shop import built_in_kinds
from tests import factories
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

PINNING = {
    "name": "Pinning a crack",
    "cuts_metal": True,
    "cautions": ["rotating", "dust"],
    "asks_for": ["deck flatness"],
    "usual_minutes": "75",
    "usual_price": "120.50",
}


@pytest.mark.parametrize(
    "words",
    ["inspect", "cracks", "pressure", "wash", "guides", "seat", "valve", "port", "chamber",
     "resurface", "flow", "assemble"],
)  # fmt: skip
def test_the_catalogue_has_what_a_head_goes_through(words: str):
    """The list of the shop's brief."""
    assert any(words in step.name.lower() for step in built_in_kinds.OPERATIONS)


def test_a_kind_of_the_shops_own_is_added_and_planned(db: Session, machinist: Actor):
    factories.create_shop(db)
    operation_kind = operation_kinds.add(db, machinist, PINNING)
    assert (operation_kind.code, operation_kind.usual_price) == (
        "pinning-a-crack",
        Decimal("120.50"),
    )
    assert not operation_kinds.is_built_in(operation_kind)
    assert_logged(db, operation_kind, machinist, "added")
    visit = factories.create_visit(db)
    step = operations.add(db, machinist, visit, operation_kind.id, {})
    assert (step.planned_minutes, step.price) == (75, Decimal("120.50"))
    with refused("no metal is cut"):
        operations.start(db, machinist, step)


def test_codes_are_made_from_names_and_never_twice(db: Session, machinist: Actor):
    factories.create_shop(db)

    def code(name: str) -> str:
        return operation_kinds.add(db, machinist, {**PINNING, "name": name}).code

    assert code("Seat-cut!") == "seat-cut-2"  # "seat-cut" is built in
    assert code("Ø 4 × 8") == "4-8"
    assert code("研磨") == "step"
    assert code("清洗") == "step-2"
    assert len(code("x" * 60)) <= operation_kinds.LONGEST_CODE


@pytest.mark.parametrize(
    ("values", "keys"),
    [
        ({"name": " "}, ["name"]),
        ({"name": "cut SEATS"}, ["name"]),
        ({"cautions": []}, ["cautions"]),
        ({"cautions": ["tigers"]}, ["cautions"]),
        ({"asks_for": ["colour"]}, ["asks_for"]),
        ({"usual_minutes": "", "usual_price": "-1"}, ["usual_minutes", "usual_price"]),
        ({"code": "mine"}, ["code"]),
    ],
)
def test_what_is_no_kind_is_refused_at_its_field(
    db: Session, machinist: Actor, values: dict[str, Any], keys: list[str]
):
    factories.create_shop(db)
    with faults_at(*keys):
        operation_kinds.add(db, machinist, {**PINNING, **values})


def test_a_built_in_kind_changes_in_minutes_price_and_figures_alone(db: Session, machinist: Actor):
    factories.create_shop(db)
    kind = operations.kind_by_code(db, "seat-cut")
    values = {"usual_minutes": "80", "usual_price": "150", "asks_for": ["seat width"]}
    operation_kinds.change(db, machinist, kind, values)
    assert (kind.usual_minutes, kind.asks_for) == (80, ["seat width"])
    for fixed in ({"name": "Seats"}, {"cuts_metal": False}, {"cautions": ["dust"]}):
        with refused("of a built-in step type"):
            operation_kinds.change(db, machinist, kind, fixed)
    built_in_kinds.ensure(db)
    assert kind.usual_minutes == 80


def test_a_retired_kind_is_offered_no_more_but_stays_where_it_is(db: Session, machinist: Actor):
    factories.create_shop(db)
    operation_kind = operation_kinds.add(db, machinist, PINNING)
    step = factories.create_operation(db, kind=operation_kind.code)
    operation_kinds.retire(db, machinist, operation_kind)
    assert operation_kind not in built_in_kinds.operation_kinds(db)
    assert operation_kinds.everything(db)[-1] is operation_kind
    assert step.kind is operation_kind
    assert last_entry(db, operation_kind).verb == "retired"
    operation_kinds.bring_back(db, machinist, operation_kind)
    assert operation_kind in built_in_kinds.operation_kinds(db)
    operation_kinds.change(db, machinist, operation_kind, {"name": "Pinning"})
    assert (operation_kind.name, operation_kind.code) == ("Pinning", "pinning-a-crack")
    with pytest.raises(NotFoundError):
        operation_kinds.get(db, 4711)
