"""Everything cut between two flow tests is named: no step takes the credit of another."""

from __future__ import annotations

import dataclasses
from datetime import datetime, timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.flowtest import Side
from shopflow.models import BenchSession, Operation, Visit
from shopflow.services.analysis import gain_by_step
from shopflow.services.bench import metal_cuts, sessions
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, NOW

SIDES: tuple[Side, Side] = ("intake", "exhaust")

VALVE_JOB = ("seat-insert", "seat-cut", "port-work")


def later(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


@pytest.fixture
def visit(db: Session) -> Visit:
    return factories.create_visit(db)


def planned(db: Session, visit: Visit, *kinds: str) -> list[Operation]:
    steps = [factories.create_operation(db, visit, kind) for kind in kinds]
    factories.approve(db, BY, visit.job)
    return steps


def sign_off(db: Session, step: Operation, hours: float) -> None:
    by = dataclasses.replace(factories.someone(db), at=later(hours))
    reason = {"not_measured_because": "measured on the bench"}
    operations.sign_off(db, by, step, reason)


def flow_test(
    db: Session,
    visit: Visit,
    hours: float,
    after: Operation | None = None,
    stage: str = "",
    side: Side = "intake",
    is_timed: bool = True,
) -> BenchSession:
    document = dataclasses.replace(
        testfile.loads(INTAKE_US),
        side=side,
        stage=stage,
        measured_at=later(hours) if is_timed else None,
    )
    by = dataclasses.replace(BY, at=later(hours))
    return sessions.store(db, by, visit, document, after)


def test_all_steps_that_cut_metal_between_two_tests_share_the_gain(db: Session, visit: Visit):
    steps = planned(db, visit, *VALVE_JOB, "hot-wash")
    rows = [flow_test(db, visit, 1, side=side) for side in SIDES]
    for hours, step in enumerate(steps, start=2):
        sign_off(db, step, hours)
    rows += [flow_test(db, visit, 9, steps[2], side=side) for side in SIDES]
    names = tuple(step.kind.name for step in steps[:3])
    for port in gain_by_step.of_head(visit):
        assert port.cuts == (metal_cuts.Cuts(names),)
        assert port.all_cuts.in_words.startswith(", ".join(names[:2]) + " and " + names[2])
        assert "together, not tested apart" in port.all_cuts.in_words


def test_each_step_tested_apart_stands_alone(db: Session, visit: Visit):
    steps = planned(db, visit, *VALVE_JOB)
    flow_test(db, visit, 1)
    for index, step in enumerate(steps, start=1):
        sign_off(db, step, 2 * index)
        flow_test(db, visit, 2 * index + 1, step)
    (port,) = gain_by_step.of_head(visit)
    assert [cuts.in_words for cuts in port.cuts] == [step.kind.name for step in steps]


def test_a_test_without_a_cut_before_it_shows_no_gain_of_the_work(db: Session, visit: Visit):
    (cut, wash) = planned(db, visit, "port-work", "hot-wash")
    sign_off(db, cut, 1)
    item = flow_test(db, visit, 2, cut)
    sign_off(db, wash, 3)
    other = flow_test(db, visit, 4, wash)
    assert metal_cuts.between(item, other).is_none
    assert metal_cuts.between(item, other).in_words == "no metal cut between them"


def test_a_step_signed_off_after_the_test_that_followed_it_counts_before_it(
    db: Session, visit: Visit
):
    seats, ports = planned(db, visit, "seat-cut", "port-work")
    first = flow_test(db, visit, 1)
    second = flow_test(db, visit, 5, ports)
    sign_off(db, seats, 8)
    sign_off(db, ports, 9)
    third = flow_test(db, visit, 12, ports)
    both = (seats.kind.name, ports.kind.name)
    assert metal_cuts.between(first, second).names == both
    assert metal_cuts.between(second, third).is_none


def test_a_step_begun_after_the_test_is_not_before_it(db: Session, visit: Visit):
    resurface, ports = planned(db, visit, "resurface", "port-work")
    first = flow_test(db, visit, 1)
    sign_off(db, ports, 2)
    second = flow_test(db, visit, 3, ports)
    operations.start(db, dataclasses.replace(factories.someone(db), at=later(4)), resurface)
    sign_off(db, resurface, 5)
    third = flow_test(db, visit, 6, ports)
    assert metal_cuts.between(first, second).names == (ports.kind.name,)
    assert metal_cuts.between(second, third).names == (resurface.kind.name,)


def test_a_step_reopened_and_done_again_counts_each_time(db: Session, visit: Visit):
    (ports,) = planned(db, visit, "port-work")
    first = flow_test(db, visit, 1)
    sign_off(db, ports, 2)
    second = flow_test(db, visit, 3, ports)
    operations.reopen(db, dataclasses.replace(BY, at=later(4)), ports)
    name = ports.kind.name
    assert metal_cuts.between(first, second).names == (name,)
    sign_off(db, ports, 5)
    third = flow_test(db, visit, 6, ports)
    assert metal_cuts.between(first, second).names == (name,)
    assert metal_cuts.between(second, third).names == (name,)


def test_a_sign_off_taken_back_before_the_test_does_not_count(db: Session, visit: Visit):
    (ports,) = planned(db, visit, "port-work")
    first = flow_test(db, visit, 1)
    sign_off(db, ports, 2)
    operations.reopen(db, dataclasses.replace(BY, at=later(3)), ports)
    second = flow_test(db, visit, 4)
    assert metal_cuts.between(first, second).is_none


def test_a_step_a_test_follows_counts_before_it_is_signed_off(db: Session, visit: Visit):
    (ports,) = planned(db, visit, "port-work")
    first, second = flow_test(db, visit, 1), flow_test(db, visit, 4, ports)
    assert metal_cuts.between(first, second).names == (ports.kind.name,)


def test_a_test_that_does_not_say_when_it_was_made_is_as_old_as_what_it_followed(
    db: Session, visit: Visit
):
    seats, ports = planned(db, visit, "seat-cut", "port-work")
    sign_off(db, seats, 2)
    sign_off(db, ports, 6)
    # Both were written down when all was done.
    first = flow_test(db, visit, 8, is_timed=False)
    second = flow_test(db, visit, 8, seats, is_timed=False)
    third = flow_test(db, visit, 8, ports, is_timed=False)
    assert metal_cuts.between(first, second).names == (seats.kind.name,)
    assert metal_cuts.between(second, third).names == (ports.kind.name,)


def test_steps_of_an_earlier_visit_count_between_tests_of_two_visits(db: Session, visit: Visit):
    (seats,) = planned(db, visit, "seat-cut")
    first = flow_test(db, visit, 1)
    sign_off(db, seats, 2)
    again = factories.create_visit(db)
    again.head = visit.head
    again.job.booked_in_at = later(100)
    db.flush()
    arrived = flow_test(db, again, 101)
    (ports,) = planned(db, again, "port-work")
    sign_off(db, ports, 102)
    last = flow_test(db, again, 103, ports)
    assert metal_cuts.between(first, arrived).names == (seats.kind.name,)
    assert metal_cuts.between(arrived, last).names == (ports.kind.name,)
    assert metal_cuts.between(last, first).names == (seats.kind.name, ports.kind.name)


def test_a_stage_in_words_stands_where_no_step_is_on_record(db: Session, visit: Visit):
    first, second = flow_test(db, visit, 1), flow_test(db, visit, 2, stage="throats opened")
    assert metal_cuts.between(first, second).in_words == (
        "throats opened (as the test states; no step on record)"
    )
