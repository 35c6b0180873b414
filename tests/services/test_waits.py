"""Holds on heads."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from shopflow.models import WaitFor
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.routing import holds
from tests import factories
from tests.services.expecting import assert_logged, faults_at, log_of, refused

PARTS = {"wait_for": "parts", "what": "8 exhaust valves"}


def test_a_wait_is_from_today_until_it_is_over(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    wait = holds.begin(db, machinist, visit, PARTS)
    assert (wait.wait_for, wait.since, wait.expected_on) == (WaitFor.PARTS, date(2026, 3, 5), None)
    assert holds.still(visit) == [wait]
    assert log_of(db, wait)[0].job_id == visit.job_id
    holds.change(db, machinist, wait, {"expected_on": "2026-03-20"})
    assert_logged(db, wait, machinist, "changed", expected_on=["", "2026-03-20"])
    holds.end(db, machinist, wait)
    assert (holds.still(visit), wait.ended_at) == ([], machinist.at)
    with refused("ended already"):
        holds.end(db, machinist, wait)


def test_a_head_may_wait_for_several_things_the_longest_first(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    new = holds.begin(db, machinist, visit, PARTS)
    values = {"wait_for": "the customer", "what": "which cam", "since": "2026-03-01"}
    old = holds.begin(db, machinist, visit, values)
    db.expire(visit)
    assert holds.still(visit) == [old, new]


def test_what_cannot_be_is_refused_at_its_field(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    with faults_at("wait_for", "what"):
        holds.begin(db, machinist, visit, {})
    with faults_at("since"):
        holds.begin(db, machinist, visit, {**PARTS, "since": "2026-03-06"})
    with faults_at("since"):
        holds.begin(db, machinist, visit, {**PARTS, "since": ""})
    with faults_at("expected_on"):
        holds.begin(db, machinist, visit, {**PARTS, "expected_on": "2026-03-04"})
    wait = holds.begin(db, machinist, visit, PARTS)
    with faults_at("expected_on"):
        holds.change(db, machinist, wait, {"expected_on": "2026-03-04"})
    jobs.cancel(db, machinist, visit.job, "sold")
    with refused("wait no more"):
        holds.begin(db, machinist, visit, PARTS)


def test_both_days_of_a_wait_are_told_at_once(db: Session, machinist: Actor):
    days = {"since": "2999-01-02", "expected_on": "2999-01-01"}
    with faults_at("since", "expected_on"):
        holds.begin(db, machinist, factories.create_visit(db), {**PARTS, **days})
