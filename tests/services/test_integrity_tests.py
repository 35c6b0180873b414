"""Pressure, vacuum, leak and crack tests: a result before sign-off; a failure stops the head."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import IntegrityKind, Operation, OperationState, Visit
from shopflow.services.actor import Actor
from shopflow.services.hand_off import sheets
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests, limit_checks
from shopflow.services.planning import floor
from shopflow.services.routing import decisions, operations, work_orders
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused

WATER = {"medium": "water", "pressure": "40 psi", "duration": "10 min", "drop": "0 psi"}
KINDS = {
    "pressure-test": {**WATER},
    "vacuum-test": {"medium": "air", "pressure": "20 inHg", "duration": "30 s"},
    "leak-test": {"medium": "solvent", "duration": "2 min"},
    "crack-check": {"medium": "dye penetrant"},
}


@pytest.fixture
def visit(db: Session, machinist: Actor) -> Visit:
    """A head with a pressure test and a hot wash to do."""
    visit = factories.create_visit(db)
    for kind in ("pressure-test", "hot-wash"):
        factories.create_operation(db, visit, kind)
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    return visit


@pytest.mark.parametrize("kind", KINDS)
def test_a_pressure_vacuum_leak_or_crack_test_needs_its_result_to_be_signed_off(
    db: Session, machinist: Actor, kind: str
):
    step = factories.create_operation(db, kind=kind)
    with refused("has no result; record the"):
        operations.sign_off(db, machinist, step, {})
    row = integrity_tests.record(db, machinist, step, {**KINDS[kind], "result": "passed"})
    operations.sign_off(db, machinist, step, {})
    db.flush()
    db.expire_all()
    assert step.state is OperationState.DONE
    assert (row.kind, row.passed) == (step.kind.tests_by, True)
    assert row.medium in last_entry(db, row).note


def test_what_a_test_cannot_be_judged_without_is_asked_for_at_its_field(
    db: Session, machinist: Actor, visit: Visit
):
    step = visit.operations[0]
    with faults_at("medium", "pressure", "duration", "result"):
        integrity_tests.record(db, machinist, step, {})
    with faults_at("pressure", "duration", "result"):
        values = {**WATER, "pressure": "40 m", "duration": "0 min", "result": "maybe"}
        integrity_tests.record(db, machinist, step, values)
    with refused("“Hot-wash” is not a pressure"):
        integrity_tests.record(db, machinist, visit.operations[1], {**WATER, "result": "passed"})


def failed(db: Session, by: Actor, step: Operation, **values: str) -> None:
    integrity_tests.record(db, by, step, {**WATER, "result": "failed", **values})


def test_a_failed_test_holds_the_head_until_it_is_decided_on_or_passed(
    db: Session, machinist: Actor, visit: Visit
):
    step, wash = visit.operations
    operations.start(db, machinist, step)
    failed(db, machinist, step)
    with refused("Pressure test failed; decide how to continue"):
        operations.sign_off(db, machinist, step, {})
    with refused("Pressure-test: Pressure test failed"):
        operations.start(db, machinist, wash)
    db.flush()
    (row,) = floor.rows(db, OpenHours((480,) * 7), date(2026, 3, 10))
    assert row.where == "stopped at Pressure-test: Pressure test failed"
    assert row.where == jobs.where_it_stands(visit)
    decisions.decide(db, machinist, step, "go on as it is", "core plug, changed at assembly")
    operations.sign_off(db, machinist, step, {})


def test_a_head_tested_again_counts_as_it_is_now(db: Session, machinist: Actor, visit: Visit):
    step = visit.operations[0]
    failed(db, machinist, step)
    integrity_tests.record(db, machinist, step, {**WATER, "result": "passed", "place": "bay 1"})
    assert len(limit_checks.undecided(step)) == 1
    row = integrity_tests.record(db, machinist, step, {**WATER, "result": "passed"})
    assert limit_checks.undecided(step) == []
    integrity_tests.correct(db, machinist, row, {"result": "failed", "notes": "misread"})
    assert limit_checks.undecided(step) == [row]
    assert last_entry(db, row).changes["passed"] == ["True", "False"]


def test_a_decision_on_a_test_is_on_that_test_alone(db: Session, machinist: Actor, visit: Visit):
    step = visit.operations[0]
    failed(db, machinist, step)
    (made,) = decisions.decide(db, machinist, step, "do it again", "gasket slipped")
    db.flush()
    assert (made.measurement_id, made.integrity_test) == (None, step.integrity_tests[0])
    assert visit.operations[1].again_because == "gasket slipped"


def test_the_work_order_and_the_hand_off_show_each_test_with_its_result(
    db: Session, machinist: Actor, visit: Visit
):
    step = visit.operations[0]
    (head,) = work_orders.work_order(db, visit.job).heads
    assert any("pressure, time" in blank for blank in head.steps[0].blanks)
    failed(db, machinist, step, notes="weeps at plug 2")
    integrity_tests.record(db, machinist, step, {**WATER, "result": "passed"})
    (head,) = work_orders.work_order(db, visit.job).heads
    assert [(row.result, row.conditions) for row in head.tested] == [
        ("failed", "water, 40 psi, 10 min, drop 0 psi"),
        ("passed", "water, 40 psi, 10 min, drop 0 psi"),
    ]
    assert head.steps[0].blanks == ()
    factories.write_hand_off(db, machinist, visit)
    assert [row.result for row in sheets.hand_off(db, visit).tested] == ["passed"]


def test_the_cautions_of_a_pressure_test_say_that_air_stores_energy(db: Session, visit: Visit):
    (head,) = work_orders.work_order(db, visit.job).heads
    assert "pressure" in head.cautions
    assert visit.operations[0].kind.tests_by is IntegrityKind.PRESSURE
