"""Figures outside their limits stop a head's routing until someone decides."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import Choice, JobState, Measurement, Operation, Visit
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.measuring import limit_checks, measurements
from shopflow.services.measuring.limit_checks import Standing
from shopflow.services.planning import floor
from shopflow.services.routing import decisions, operations
from shopflow.services.shop import built_in_kinds
from tests import factories
from tests.services.expecting import faults_at, last_entry, log_of, refused

LEFT_OUT = {"not_measured_because": "guides are replaced anyway"}
OUT = {"value": "0.09 mm", "lower": "0.025 mm", "upper": "0.055 mm"}


@pytest.fixture
def visit(db: Session, machinist: Actor) -> Visit:
    """A head with its work approved: an inspection in hand, guides and a flow test to come."""
    visit = factories.create_visit(db)
    for kind in ("inspection", "guide", "flow-test"):
        factories.create_operation(db, visit, kind)
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    operations.start(db, machinist, visit.operations[0])
    return visit


def measure(db: Session, by: Actor, step: Operation, **values: Any) -> Measurement:
    """A guide clearance of a step, out unless told."""
    kind = measurements.kind_by_code(db, "guide clearance")
    given = {**OUT, "cylinder": "2", "side": "exhaust", **values}
    return measurements.record(db, by, step.job_head, kind.id, given, step)


def stands(db: Session, visit: Visit) -> str:
    """State of a head, on its page and on the floor alike."""
    db.flush()
    (row,) = floor.rows(db, OpenHours((480,) * 7), date(2026, 3, 10))
    assert row.where == jobs.where_it_stands(visit)
    return row.where


def test_a_figure_outside_stops_the_sign_off_and_every_other_step(
    db: Session, machinist: Actor, visit: Visit
):
    looking, guides, test = visit.operations
    measure(db, machinist, looking)
    with refused("Guide clearance is outside its limits; decide how to continue"):
        operations.sign_off(db, machinist, looking, LEFT_OUT)
    for step in (guides, test):
        with refused("Inspect and measure: Guide clearance is outside its limits"):
            operations.start(db, machinist, step)
        with refused("Guide clearance is outside"):
            operations.sign_off(db, machinist, step, LEFT_OUT)
    assert limit_checks.stopping(visit.operations) is looking
    assert stands(db, visit) == (
        "stopped at Inspect and measure: Guide clearance is outside its limits"
    )
    # The step itself may be worked on.
    operations.pause(db, machinist, looking)
    operations.take_up(db, machinist, looking)


def test_going_on_as_it_is_needs_a_reason_and_is_kept(
    db: Session, machinist: Actor, visit: Visit, by: Actor
):
    looking, guides, _ = visit.operations
    row = measure(db, machinist, looking)
    with faults_at("reason"):
        decisions.decide(db, machinist, looking, "go on as it is", " ")
    with faults_at("choice"):
        decisions.decide(db, machinist, looking, "never mind", "why not")
    with refused("needs a person"):
        decisions.decide(db, by, looking, "go on as it is", "guides are next")
    (created,) = decisions.decide(db, machinist, looking, "go on as it is", "guides are next")
    assert (created.choice, created.person, created.at) == (
        Choice.GO_ON,
        machinist.person,
        machinist.at,
    )
    assert row.decision is created
    assert last_entry(db, created).job_id == visit.job_id
    assert "0.09 mm, limits 0.025 to 0.055 mm" in last_entry(db, created).note
    operations.sign_off(db, machinist, looking, LEFT_OUT)
    operations.start(db, machinist, guides)
    with refused("no result of this step needs"):
        decisions.decide(db, machinist, looking, "go on as it is", "once more")


def test_doing_it_again_plans_the_step_once_more_right_after(
    db: Session, machinist: Actor, visit: Visit
):
    looking, guides, test = visit.operations
    measure(db, machinist, looking)
    decisions.decide(db, machinist, looking, "do it again", "gauge was cold")
    db.flush()
    db.expire_all()
    assert [step.kind.code for step in visit.operations] == [
        "inspection", "inspection", "guide", "flow-test",
    ]  # fmt: skip
    again = visit.operations[1]
    assert (again.again_because, again.price) == ("gauge was cold", Decimal(0))
    operations.sign_off(db, machinist, looking, LEFT_OUT)
    operations.start(db, machinist, again)
    # The repeat is held to the limits too.
    measure(db, machinist, again)
    with refused("decide how"):
        operations.sign_off(db, machinist, again, LEFT_OUT)
    assert [guides, test] == visit.operations[2:]


def test_a_head_waits_for_the_customer_until_the_answer_is_decided_on(
    db: Session, machinist: Actor, visit: Visit
):
    looking = visit.operations[0]
    row = measure(db, machinist, looking)
    decisions.decide(db, machinist, looking, "ask the customer", "new guides are 140")
    assert stands(db, visit) == "waiting for the customer's answer"
    assert limit_checks.asks_customer(visit.operations)
    with refused("decide how"):
        operations.sign_off(db, machinist, looking, LEFT_OUT)
    decisions.decide(db, machinist, looking, "go on as it is", "Cal says fit them")
    assert [decision.choice for decision in row.decisions] == [Choice.ASK, Choice.GO_ON]
    operations.sign_off(db, machinist, looking, LEFT_OUT)


def test_a_decision_holds_for_the_figure_as_it_was(db: Session, machinist: Actor, visit: Visit):
    looking = visit.operations[0]
    row = measure(db, machinist, looking)
    decisions.decide(db, machinist, looking, "go on as it is", "guides are next")
    measurements.correct(db, machinist, row, {"value": "0.12 mm"})
    assert limit_checks.undecided(looking) == [row]
    measurements.correct(db, machinist, row, {"value": "0.05 mm"})
    assert limit_checks.undecided(looking) == []


@pytest.mark.parametrize(
    "values",
    [
        {"when": "before"},  # what the work is there to mend
        {"value": "0.04 mm"},
        {"lower": "", "upper": ""},
    ],
)
def test_what_does_not_stop_the_routing(
    db: Session, machinist: Actor, visit: Visit, values: dict[str, str]
):
    measure(db, machinist, visit.operations[0], **values)
    operations.sign_off(db, machinist, visit.operations[0], LEFT_OUT)


def test_a_place_measured_again_counts_as_it_is_now(db: Session, machinist: Actor, visit: Visit):
    looking = visit.operations[0]
    measure(db, machinist, looking)
    measure(db, machinist, looking, value="0.050 mm")
    assert limit_checks.undecided(looking) == []
    measure(db, machinist, looking, cylinder="3")
    (outside,) = limit_checks.undecided(looking)
    assert isinstance(outside, Measurement)
    assert outside.cylinder == 3


def test_what_was_asked_for_has_a_verdict_each(db: Session, machinist: Actor, visit: Visit):
    looking = visit.operations[0]
    measure(db, machinist, looking)
    for code, values in (
        ("stem diameter", {"value": "8 mm"}),
        ("deck flatness", {"value": "0.03 mm", "upper": "0.05 mm"}),
    ):
        kind = measurements.kind_by_code(db, code)
        measurements.record(db, machinist, visit, kind.id, values, looking)
    wanted = limit_checks.asked_for(looking, built_in_kinds.figures_by_code(db))
    assert {item.kind.code: item.standing for item in wanted} == {
        "guide clearance": Standing.OUTSIDE,
        "stem diameter": Standing.NO_LIMIT,
        "deck flatness": Standing.WITHIN,
        "valve head diameter": Standing.MISSING,
    }
    decisions.decide(db, machinist, looking, "go on as it is", "guides are next")
    operations.sign_off(db, machinist, looking, LEFT_OUT)
    rows = [entry.note for entry in log_of(db, looking)]
    assert "not measured: valve head diameter; guides are replaced anyway" in rows


def test_a_head_does_not_leave_with_a_figure_undecided(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit, "flow-test")
    factories.approve(db, machinist, visit.job, "Cal", "telephone")
    operations.sign_off(db, machinist, step, LEFT_OUT)
    measure(db, machinist, step)
    with refused("has a result outside its limits"):
        jobs.move(db, machinist, visit.job, JobState.READY)
