"""Work plans as a whole: found to be copied, saved as templates, and templates to start with."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError, ValidationError
from shopflow.models import OperationKind, Visit
from shopflow.services.actor import Actor
from shopflow.services.routing import operations, step_order, work_plans
from shopflow.services.search import plans
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.built_in_plans import STARTERS
from tests import factories


@pytest.fixture
def planned(db: Session, by: Actor) -> Visit:
    """A head with three steps, one of them skipped and one repeated."""
    visit = factories.create_visit(db)
    for code in ("teardown", "guide", "assembly"):
        kind = operations.kind_by_code(db, code)
        values = {"price": "70.00", "instructions": f"mind the {code}"}
        operations.add(db, by, visit, kind.id, values)
    operations.skip(db, by, visit.operations[1], "guides are good")
    step_order.repeat(db, by, visit.operations[2], "two heights were off")
    return visit


def test_plans_to_copy_are_those_of_the_job_then_of_the_engine_type(
    db: Session, by: Actor, planned: Visit
):
    engine_type = planned.head.engine_type
    job = factories.create_job(db, engine_type=engine_type, head_count=3)
    bare, sibling, unplanned = job.heads
    operations.add(db, by, sibling, operations.kind_by_code(db, "guide").id, {})
    factories.create_operation(db, factories.create_visit(db))
    assert plans.to_copy(db, bare) == [sibling, planned]
    assert plans.to_copy(db, planned) == [sibling]
    assert unplanned not in plans.to_copy(db, planned)


def test_plans_to_copy_are_searched_by_label_or_customer(db: Session, planned: Visit):
    bare = factories.create_visit(db)
    assert plans.to_copy(db, bare, planned.tag) == [planned]
    assert plans.to_copy(db, bare, planned.job.customer.name) == [planned]
    assert plans.to_copy(db, bare, "zeppelin") == []


def test_a_plan_becomes_a_template_without_repeats_and_skipped_steps(
    db: Session, by: Actor, planned: Visit
):
    priced = work_plans.save_plan(db, by, planned, "Quick", "for a friend", with_prices=True)
    assert [(step.kind.code, step.price, step.instructions) for step in priced.steps] == [
        ("teardown", Decimal(70), "mind the teardown"),
        ("assembly", Decimal(70), "mind the assembly"),
    ]
    assert [step.position for step in priced.steps] == [1, 2]
    bare = work_plans.save_plan(db, by, planned, "Quick, no prices", "", with_prices=False)
    assert [step.price for step in bare.steps] == [None, None]


def test_a_template_of_a_plan_needs_a_free_name_and_steps(db: Session, by: Actor, planned: Visit):
    work_plans.save_plan(db, by, planned, "Quick", "", with_prices=True)
    with pytest.raises(ValidationError, match="name"):
        work_plans.save_plan(db, by, planned, "Quick", "", with_prices=True)
    empty = factories.create_visit(db)
    with pytest.raises(RuleError, match="no steps to save"):
        work_plans.save_plan(db, by, empty, "Nothing", "", with_prices=True)


def test_starters_are_of_built_in_steps_and_added_without_prices(db: Session, by: Actor):
    factories.create_shop(db)
    assert work_plans.list_all(db) == []
    rows = work_plans.add_starters(db, by, [starter.key for starter in STARTERS])
    assert [len(row.steps) for row in rows] == [len(starter.steps) for starter in STARTERS]
    assert {step.price for row in rows for step in row.steps} == {None}
    assert {step.kind.code for row in rows for step in row.steps} <= {
        step.code for step in built_in_kinds.OPERATIONS
    }
    assert work_plans.starters_left(db) == []


def test_a_starter_once_added_is_offered_no_more(db: Session, by: Actor):
    factories.create_shop(db)
    (row,) = work_plans.add_starters(db, by, ["race-port"])
    flow_tests = [step for step in row.steps if step.kind.code == "flow-test"]
    assert len(flow_tests) == 5
    assert "race-port" not in [starter.key for starter in work_plans.starters_left(db)]
    with pytest.raises(ValidationError, match="keys"):
        work_plans.add_starters(db, by, ["race-port"])


def test_a_starter_leaves_out_steps_the_shop_has_archived(db: Session, by: Actor):
    factories.create_shop(db)
    wash = db.scalars(select(OperationKind).where(OperationKind.code == "hot-wash")).one()
    wash.active = False
    db.flush()
    (row,) = work_plans.add_starters(db, by, ["resurface"])
    assert [step.kind.code for step in row.steps] == ["crack-check", "pressure-test", "resurface"]


def test_a_starter_planned_on_a_head_takes_the_usual_prices(db: Session, by: Actor):
    factories.create_shop(db)
    db.scalars(
        select(OperationKind).where(OperationKind.code == "resurface")
    ).one().usual_price = Decimal(95)
    (row,) = work_plans.add_starters(db, by, ["resurface"])
    steps = operations.add_routing(db, by, factories.create_visit(db), row)
    assert [step.price for step in steps] == [None, None, None, Decimal(95)]
