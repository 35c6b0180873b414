"""Questions for the customer: whose move it is, the clock stops, the counter's queue."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.calc.capacity import OpenHours
from shopflow.models import Role, Visit
from shopflow.services.actor import Actor
from shopflow.services.billing import quotes
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests
from shopflow.services.planning import floor, questions
from shopflow.services.planning.next_act import Party
from shopflow.services.routing import decisions, holds, operations, time_tracking
from shopflow.web.planning.floor.moves import Standing, standing
from tests import factories
from tests.services.expecting import faults_at, refused

TODAY = date(2026, 3, 10)


@pytest.fixture
def visit(db: Session, machinist: Actor) -> Visit:
    """A head with an approved quote, a crack check in hand that it failed."""
    visit = factories.create_visit(db)
    for kind in ("crack-check", "seat-cut", "flow-test", "assembly"):
        factories.create_operation(db, visit, kind)
    quotes.approve(
        db, machinist, issuing.give_quote(db, machinist, visit.job, {}), "Cal", "telephone"
    )
    return visit


def stands(db: Session) -> Standing:
    db.flush()
    (row,) = floor.rows(db, OpenHours((480,) * 7), TODAY)
    return standing(row, TODAY)


def ask(db: Session, by: Actor, visit: Visit) -> None:
    """Fail the crack check, and ask the customer."""
    step = visit.operations[0]
    operations.start(db, by, step)
    integrity_tests.record(db, by, step, {"method": "dye", "result": "failed"})
    decisions.decide(db, by, step, "ask the customer", "weld it for 180, or another head?")


def test_asking_the_customer_moves_the_head_to_the_customers_side_and_stops_every_clock(
    db: Session, machinist: Actor, visit: Visit
):
    helper = factories.someone(db, "Idris Vale")
    operations.start(db, helper, visit.operations[1])
    assert stands(db).move is Party.WORKSHOP
    ask(db, machinist, visit)
    assert time_tracking.running(db) == []
    seen = stands(db)
    assert (seen.move, seen.who) == (Party.CUSTOMER, visit.job.customer.name)
    assert seen.row.where == "waiting for the customer's answer"
    for verb in (operations.take_up, operations.sign_off):
        with refused("customer is asked|decide how"):
            verb(db, machinist, visit.operations[0], *([{}] if verb is operations.sign_off else []))


def test_a_question_lands_in_the_counters_queue_and_the_answer_moves_the_head_back(
    db: Session, machinist: Actor, visit: Visit
):
    ask(db, machinist, visit)
    (question,) = questions.open_questions(db)
    assert question.subject == "Crack test failed"
    assert question.text == "weld it for 180, or another head?"
    assert (question.since, question.asked_by) == (machinist.at, "Odile Marsh")
    counter = factories.someone(db, "Ada Finch", Role.COUNTER)
    step = visit.operations[0]
    with faults_at("choice"):
        decisions.answer(db, counter, step, "ask the customer", "nobody answers")
    with faults_at("reason"):
        decisions.answer(db, counter, step, "go on as it is", "")
    decisions.answer(db, counter, step, "go on as it is", "weld it, says Cal by telephone")
    assert questions.open_questions(db) == []
    seen = stands(db)
    assert seen.move is Party.WORKSHOP
    assert seen.row.where == "started: Check for cracks"
    with refused("not asked about “Check for cracks”"):
        decisions.answer(db, counter, step, "go on as it is", "again")


def test_clocked_on_and_started_once_differ(db: Session, machinist: Actor, visit: Visit):
    step = visit.operations[0]
    operations.start(db, machinist, step)
    seen = stands(db)
    assert (seen.row.where, seen.people, seen.who) == (
        "in progress: Check for cracks", ["Odile Marsh"], "Odile Marsh",
    )  # fmt: skip
    operations.pause(db, Actor(machinist.person, machinist.at + timedelta(hours=1)), step)
    seen = stands(db)
    assert (seen.row.where, seen.people, seen.who) == (
        "started: Check for cracks", [], "started by Odile Marsh",
    )  # fmt: skip
    assert jobs.where_it_stands(visit) == seen.row.where


def find(db: Session, by: Actor, visit: Visit, code: str = "weld-repair"):
    kind = operations.kind_by_code(db, code)
    return operations.add(db, by, visit, kind.id, {"price": "180"}, is_extra=True)


def test_extra_work_stands_with_the_counter_until_it_is_quoted_and_approved(
    db: Session, machinist: Actor, visit: Visit
):
    extra = find(db, machinist, visit)
    seen = stands(db)
    assert (seen.move, seen.row.to_quote) == (Party.COUNTER, ["Repair by welding"])
    (question,) = questions.open_questions(db)
    assert (question.subject, question.asked_by) == ("Extra work: Repair by welding", "Odile Marsh")
    assert question.since == machinist.at
    step = visit.operations[0]
    integrity_tests.record(db, machinist, step, {"method": "dye", "result": "passed"})
    operations.sign_off(db, machinist, step, {})
    quote = issuing.give_quote(db, machinist, visit.job, {})
    db.flush()
    assert questions.open_questions(db) == []
    # The extra comes next, and the customer has the quote.
    assert visit.next_operation is extra
    assert stands(db).move is Party.CUSTOMER
    quotes.approve(db, machinist, quote, "Cal", "telephone")
    assert stands(db).move is Party.WORKSHOP


def test_a_hold_for_the_customer_stops_the_clock(db: Session, machinist: Actor, visit: Visit):
    operations.start(db, machinist, visit.operations[0])
    holds.begin(db, machinist, visit, {"wait_for": "the customer", "what": "which cam"})
    assert time_tracking.running(db) == []
    assert stands(db).move is Party.CUSTOMER


@pytest.mark.parametrize(
    ("code", "planned"),
    [
        ("weld-repair", ["crack-check", "weld-repair", "seat-cut", "flow-test", "assembly"]),
        ("resurface", ["crack-check", "seat-cut", "resurface", "flow-test", "assembly"]),
        ("leak-test", ["crack-check", "seat-cut", "leak-test", "flow-test", "assembly"]),
        ("flow-test", ["crack-check", "seat-cut", "flow-test", "flow-test", "assembly"]),
    ],
)
def test_work_found_goes_before_the_final_test_and_the_assembly(
    db: Session, machinist: Actor, visit: Visit, code: str, planned: list[str]
):
    operations.start(db, machinist, visit.operations[0])
    find(db, machinist, visit, code)
    db.flush()
    db.expire_all()
    assert [step.kind.code for step in visit.operations] == planned
    assert [step.position for step in visit.operations] == [1, 2, 3, 4, 5]


def test_work_found_comes_after_a_flow_test_that_is_not_the_final_one(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    for kind in ("flow-test", "seat-cut", "flow-test"):
        factories.create_operation(db, visit, kind)
    find(db, machinist, visit, "guide")
    assert [step.kind.code for step in visit.operations] == [
        "flow-test", "guide", "seat-cut", "flow-test",
    ]  # fmt: skip


def test_a_step_that_misses_measurements_says_which_and_keeps_the_reason(
    db: Session, machinist: Actor, visit: Visit
):
    step = visit.operations[1]
    with faults_at("not_measured_because") as _:
        operations.sign_off(db, machinist, step, {})
    assert operations.left_out(["seat angle", "seat width"]) == (
        "Measure seat angle, seat width, or enter why you did not"
    )
    operations.sign_off(db, machinist, step, {"not_measured_because": "gauge at the maker's"})
    assert step.not_measured_because == "gauge at the maker's"
