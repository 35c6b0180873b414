"""Operations: planned, started, signed off, skipped, taken up again; routings saved."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import JobState, OperationState
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.routing import operation_kinds, operations, step_order, work_plans
from tests import factories
from tests.optional import present
from tests.services.expecting import assert_logged, faults_at, last_entry, log_of, refused


def test_a_step_takes_the_kinds_usual_minutes_and_price_where_none_are_given(
    db: Session, by: Actor
):
    visit = factories.create_visit(db)
    kind = operations.kind_by_code(db, "seat-cut")
    # No shop starts with prices that nobody of it has set.
    blank = factories.create_operation(db, factories.create_visit(db), "seat-cut", price="")
    assert (kind.usual_price, blank.price) == (None, None)
    operation_kinds.change(db, by, kind, {"usual_price": "160.00"})
    usual = factories.create_operation(db, visit, "seat-cut", planned_minutes="", price="")
    # Ten times a tenth is one, in money.
    own = [factories.create_operation(db, visit, "seat-cut", price="0.10") for _ in range(10)]
    free = factories.create_operation(db, visit, "seat-cut", price="0", planned_minutes="0")
    db.flush()
    db.expire_all()
    assert (usual.planned_minutes, usual.price) == (90, Decimal("160.00"))
    assert (free.planned_minutes, free.price) == (0, Decimal("0.00"))
    assert sum(present(step.price) for step in own) == Decimal("1.00")
    assert str(visit.price) == "161.00"
    assert [step.position for step in visit.operations] == list(range(1, 13))
    assert_logged(db, usual, by, "planned")
    assert last_entry(db, usual).note == f"Cut seats, {visit.tag}"


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"price": "12.345"}, "price"),
        ({"price": "-1"}, "price"),
        ({"price": "NaN"}, "price"),
        ({"price": "1e12"}, "price"),
        ({"planned_minutes": "-5"}, "planned_minutes"),
        ({"planned_minutes": "an hour"}, "planned_minutes"),
        ({"planned_minutes": "1" * 5000}, "planned_minutes"),
        ({"instructions": "x" * 20_001}, "instructions"),
        ({"state": "done"}, "state"),
    ],
)
def test_what_cannot_be_planned_is_refused_at_its_field(
    sqlite_db: Session, values: dict[str, Any], key: str
):
    with faults_at(key):
        factories.create_operation(sqlite_db, **values)


def test_an_unknown_kind_or_step_is_refused(db: Session, by: Actor):
    visit = factories.create_visit(db)
    with faults_at("kind_id"):
        operations.add(db, by, visit, 4711, {})
    with faults_at("kind"):
        operations.kind_by_code(db, "polishing")
    with pytest.raises(NotFoundError, match="this step does not exist"):
        operations.get(db, 4711)


def test_no_metal_is_cut_before_approval_but_looking_is_free(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    looking = factories.create_operation(db, visit, "inspection")
    cutting = factories.create_operation(db, visit, "port-work")
    operations.start(db, machinist, looking)
    before = visit.job.state
    assert before is JobState.BOOKED_IN
    for verb in (operations.start, partial(operations.sign_off, values={})):
        with refused("no metal is cut before the customer has approved"):
            verb(db, machinist, cutting)
    assert cutting.state is OperationState.PLANNED
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    operations.start(db, machinist, cutting)
    assert visit.job.state is JobState.IN_WORK
    assert_logged(db, cutting, machinist, "started", state=["planned", "started"])
    assert_logged(db, visit.job, machinist, "moved", state=["approved", "in work"])


def test_a_step_is_started_once_by_someone(db: Session, by: Actor, machinist: Actor):
    step = factories.create_operation(db)
    with refused("nobody is signed in"):
        operations.start(db, by, step)
    operations.start(db, machinist, step)
    assert (step.started_at, step.started_by) == (machinist.at, machinist.person)
    with refused("started already"):
        operations.start(db, machinist, step)


def test_a_sign_off_keeps_who_when_and_how_long(db: Session, by: Actor, machinist: Actor):
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    with refused("needs a person"):
        operations.sign_off(db, by, step, {})
    with faults_at("actual_minutes", "price"):
        operations.sign_off(db, machinist, step, {"actual_minutes": "long", "price": "1"})
    operations.sign_off(db, machinist, step, {"actual_minutes": "75", "notes": "two guides tight"})
    assert (step.signed_off_at, step.signed_off_by) == (machinist.at, machinist.person)
    assert (step.actual_minutes, step.notes) == (75, "two guides tight")
    assert_logged(
        db, step, machinist, "signed off", state=["started", "done"], actual_minutes=["", "75"]
    )
    with refused("done already"):
        operations.sign_off(db, machinist, step, {})
    with refused("done already"):
        operations.skip(db, machinist, step, "too late")


def test_signing_off_a_planned_step_starts_it_first(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    operations.sign_off(db, machinist, step, {})
    assert [entry.verb for entry in log_of(db, step)] == ["planned", "started", "signed off"]


def test_a_skipped_step_says_why_and_is_not_charged(db: Session, machinist: Actor):
    step = factories.create_operation(db, price="99.95")
    with faults_at("skip_reason"):
        operations.skip(db, machinist, step, "  ")
    assert step.job_head.price == Decimal("99.95")
    operations.skip(db, machinist, step, "guides are new")
    assert step.job_head.price == 0
    assert_logged(
        db, step, machinist, "skipped",
        state=["planned", "skipped"], skip_reason=["", "guides are new"],
    )  # fmt: skip


@pytest.mark.parametrize("ended", ["done", "skipped"])
def test_a_step_is_taken_up_again_and_the_log_keeps_who_had_signed(
    db: Session, machinist: Actor, ended: str
):
    step = factories.create_operation(db)
    with refused("open already"):
        operations.reopen(db, machinist, step)
    if ended == "done":
        operations.sign_off(db, machinist, step, {})
    else:
        operations.skip(db, machinist, step, "thought it needless")
    operations.reopen(db, machinist, step)
    db.flush()
    db.expire(step)
    assert (step.state, step.signed_off_at, step.signed_off_by_id, step.skip_reason) == (
        OperationState.PLANNED,
        None,
        None,
        "",
    )
    assert_logged(db, step, machinist, "reopened", state=[ended, "planned"])


def test_nothing_goes_on_where_the_job_is_closed(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    planned, started, done = (factories.create_operation(db, visit) for _ in range(3))
    operations.start(db, machinist, started)
    operations.sign_off(db, machinist, done, {})
    jobs.cancel(db, machinist, visit.job, "sold the car")
    for act in (
        lambda: operations.start(db, machinist, planned),
        lambda: operations.sign_off(db, machinist, started, {}),
        lambda: operations.skip(db, machinist, planned, "sold"),
        lambda: operations.reopen(db, machinist, done),
        lambda: factories.create_operation(db, visit),
    ):
        with refused("is cancelled"):
            act()


def test_steps_change_places_but_not_past_one_that_is_done(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    first, second, third = (factories.create_operation(db, visit) for _ in range(3))
    step_order.move(db, machinist, third, up=True)
    assert last_entry(db, third).verb == "moved"
    step_order.move(db, machinist, first, up=True)
    db.flush()
    db.expire_all()
    assert visit.operations == [first, third, second]
    step_order.move(db, machinist, third, up=False)
    assert visit.operations == [first, second, third]
    operations.sign_off(db, machinist, first, {})
    with refused("cannot move past"):
        step_order.move(db, machinist, second, up=True)
    with refused("keeps its place"):
        step_order.move(db, machinist, first, up=False)
    assert visit.next_operation is second


def test_a_change_is_logged_from_what_to_what(db: Session, machinist: Actor):
    step = factories.create_operation(db, price="75.00")
    operations.change(db, machinist, step, {"price": "82.5", "instructions": "cylinder 3 only"})
    db.flush()
    db.expire(step)
    assert str(step.price) == "82.50"
    assert_logged(
        db, step, machinist, "changed",
        price=["75.00", "82.5"], instructions=["", "cylinder 3 only"],
    )  # fmt: skip
    with faults_at("planned_minutes", "price"):
        operations.change(db, machinist, step, {"planned_minutes": "", "price": "x"})


def test_a_routing_is_saved_listed_and_planned_in_order(db: Session, by: Actor):
    factories.create_shop(db)
    steps: list[dict[str, object]] = [
        {"kind": "teardown", "instructions": "keep the order", "price": "12.34"},
        {"kind": "seat-cut", "planned_minutes": 45},
    ]
    work_plan = work_plans.save(db, by, " Seats only ", "usual", steps)
    assert work_plans.list_all(db) == [work_plan]
    assert work_plans.get(db, work_plan.id).name == "Seats only"
    assert_logged(db, work_plan, by, "saved")
    visit = factories.create_visit(db)
    planned = operations.add_routing(db, by, visit, work_plan)
    assert visit.operations == planned
    assert [(s.kind.code, s.planned_minutes, s.price) for s in planned] == [
        ("teardown", 45, Decimal("12.34")),
        ("seat-cut", 45, None),
    ]
    with pytest.raises(NotFoundError, match="this work plan template does not exist"):
        work_plans.get(db, 4711)


def test_a_routings_faults_come_together_at_their_steps(db: Session, by: Actor):
    factories.create_shop(db)
    work_plans.save(db, by, "Seats only", "", [{"kind": "seat-cut"}])
    with faults_at("name"):
        work_plans.save(db, by, "Seats only", "", [{"kind": "seat-cut"}])
    with faults_at("name"):
        work_plans.save(db, by, " ", "", [{"kind": "seat-cut"}])
    with faults_at("steps"):
        work_plans.save(db, by, "Nothing", "", [])
    steps = [{"kind": "polishing"}, {"kind": "seat-cut"}, {"kind": "guide", "price": "1.234"}]
    with faults_at("steps-0-kind", "steps-2-price"):
        work_plans.save(db, by, "Bad", "", steps)


def test_a_changed_routing_leaves_what_was_planned_by_it(db: Session, by: Actor):
    factories.create_shop(db)
    work_plan = work_plans.save(db, by, "Seats", "", [{"kind": "seat-cut"}, {"kind": "guide"}])
    visit = factories.create_visit(db)
    operations.add_routing(db, by, visit, work_plan)
    version = work_plan.version
    work_plans.change(db, by, work_plan, "Seats", "", [{"kind": "guide"}, {"kind": "seat-cut"}])
    db.flush()
    db.expire_all()
    assert work_plan.version > version
    assert [step.kind.code for step in work_plan.steps] == ["guide", "seat-cut"]
    assert [step.kind.code for step in visit.operations] == ["seat-cut", "guide"]
    assert last_entry(db, work_plan).verb == "steps replaced"
    other = work_plans.save(db, by, "Other", "", [{"kind": "guide"}])
    with faults_at("name"):
        work_plans.change(db, by, other, "Seats", "", [{"kind": "guide"}])


def test_a_step_goes_to_any_place_among_the_open_ones(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    done, first, second, third = (factories.create_operation(db, visit) for _ in range(4))
    operations.sign_off(db, machinist, done, {})
    step_order.move_to(db, machinist, third, 2)
    assert last_entry(db, third).note == "from 4 to 2"
    db.flush()
    db.expire_all()
    assert visit.operations == [done, third, first, second]
    step_order.move_to(db, machinist, third, 4)
    assert visit.operations == [done, first, second, third]
    assert [step.position for step in visit.operations] == [1, 2, 3, 4]
    with refused("cannot move past"):
        step_order.move_to(db, machinist, second, 1)
    with refused("keeps its place"):
        step_order.move_to(db, machinist, done, 2)
    for number in (0, 5):
        with faults_at("number"):
            step_order.move_to(db, machinist, second, number)


def test_a_step_is_repeated_right_after_itself_uncharged(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step, last = (factories.create_operation(db, visit, price="80.00") for _ in range(2))
    operations.sign_off(db, machinist, step, {})
    with faults_at("reason"):
        step_order.repeat(db, machinist, step, "")
    again = step_order.repeat(db, machinist, step, "reading drifted")
    db.flush()
    db.expire_all()
    assert visit.operations == [step, again, last]
    assert (again.kind, again.price, again.again_because) == (
        step.kind,
        Decimal(0),
        "reading drifted",
    )
    assert str(visit.price) == "160.00"
    assert last_entry(db, again).verb == "planned again"
    jobs.cancel(db, machinist, visit.job, "sold")
    with refused("is cancelled"):
        step_order.repeat(db, machinist, step, "once more")
