"""One step, work plan or change for every head alike on a job."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import ValidationError
from shopflow.models import Job, Visit
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.routing import like_heads, operations, work_plans
from tests import factories


@pytest.fixture
def pair(db: Session) -> Job:
    """Two heads alike on a job, and one of another engine type."""
    job = factories.create_job(db, head_count=2)
    other = factories.create_engine_type(db)
    booking.add_head(db, factories.BY, job, other, {"casting_number": "HC 9"})
    return job


def kinds_of(visit: Visit) -> list[str]:
    """Codes of a head's steps, in order."""
    return [step.kind.code for step in visit.operations]


def test_only_heads_of_one_engine_type_are_alike(pair: Job):
    left, right, other = pair.heads
    assert like_heads.of(left) == [left, right]
    assert like_heads.of(right) == [right, left]
    assert like_heads.of(other) == [other]


def test_a_step_goes_to_every_head_alike(db: Session, by: Actor, pair: Job):
    left, right, _ = pair.heads
    kind = operations.kind_by_code(db, "seat-cut")
    like_heads.add(db, by, like_heads.of(left), kind.id, {"price": "80.00"})
    assert [kinds_of(row) for row in pair.heads] == [["seat-cut"], ["seat-cut"], []]
    assert [row.operations[0].price for row in (left, right)] == [Decimal("80.00")] * 2


def test_a_template_goes_to_every_head_alike(db: Session, by: Actor, pair: Job):
    steps = [{"kind": "teardown"}, {"kind": "hot-wash"}]
    template = work_plans.save(db, by, "Clean", "", steps)
    like_heads.add_routing(db, by, like_heads.of(pair.heads[1]), template)
    assert [kinds_of(row) for row in pair.heads] == [["teardown", "hot-wash"]] * 2 + [[]]


def test_a_plan_copied_from_one_of_the_pair_is_read_before_it_grows(
    db: Session, by: Actor, pair: Job
):
    left, right, other = pair.heads
    for code in ("teardown", "guide"):
        operations.add(db, by, left, operations.kind_by_code(db, code).id, {})
    like_heads.add_like(db, by, like_heads.of(left), left)
    assert kinds_of(left) == ["teardown", "guide"] * 2
    assert kinds_of(right) == ["teardown", "guide"]
    assert kinds_of(other) == []


def test_a_change_reaches_the_same_step_of_the_other_heads(db: Session, by: Actor, pair: Job):
    left, right, _ = pair.heads
    guide, flow = (operations.kind_by_code(db, code) for code in ("guide", "flow-test"))
    for kind in (flow, guide, flow):
        like_heads.add(db, by, [left, right], kind.id, {"price": "50.00"})
    right.operations[2].instructions = "Cylinder 6"
    like_heads.change(
        db, by, left.operations[2], {"price": "65.00", "notes": "quick", "instructions": ""}
    )
    assert [step.price for step in left.operations] == [50, 50, 65]
    assert [step.price for step in right.operations] == [50, 50, 65]
    # What was not changed here, and the notes of one head's work, stay the other's own.
    assert right.operations[2].instructions == "Cylinder 6"
    assert (left.operations[2].notes, right.operations[2].notes) == ("quick", "")


def test_a_change_leaves_closed_steps_as_they_were_agreed(db: Session, by: Actor, pair: Job):
    left, right, _ = pair.heads
    kind = operations.kind_by_code(db, "guide")
    like_heads.add(db, by, [left, right], kind.id, {"price": "50.00"})
    operations.skip(db, by, right.operations[0], "guides are good")
    assert like_heads.likes(left.operations[0]) == []
    assert like_heads.change(db, by, left.operations[0], {"price": "65.00"}) == []
    assert [row.operations[0].price for row in (left, right)] == [65, 50]


def test_a_head_without_the_step_is_passed_over(db: Session, by: Actor, pair: Job):
    left, right, _ = pair.heads
    step = operations.add(db, by, left, operations.kind_by_code(db, "guide").id, {})
    assert like_heads.likes(step) == []
    assert right.operations == []


def test_a_fault_changes_neither_head(db: Session, by: Actor, pair: Job):
    left, right, _ = pair.heads
    kind = operations.kind_by_code(db, "guide")
    like_heads.add(db, by, [left, right], kind.id, {"price": "50.00"})
    with pytest.raises(ValidationError):
        like_heads.change(db, by, left.operations[0], {"price": "much"})
    assert [row.operations[0].price for row in (left, right)] == [50, 50]
