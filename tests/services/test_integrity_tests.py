"""Pressure, vacuum, leak and crack tests: a result before sign-off; a failure stops the head."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import (
    IntegrityKind,
    IntegrityTest,
    IntegrityVerdict,
    Operation,
    OperationState,
    Visit,
)
from shopflow.services.actor import Actor
from shopflow.services.hand_off import sheets
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_limits, integrity_tests, limit_checks
from shopflow.services.planning import floor
from shopflow.services.routing import decisions, operations, work_orders
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused

WATER = {"medium": "water", "pressure": "40 psi", "duration": "10 min", "drop": "0 psi"}
KINDS = {
    "pressure-test": {**WATER},
    "vacuum-test": {"medium": "air", "pressure": "20 inHg", "duration": "30 s"},
    "leak-test": {"medium": "solvent", "duration": "2 min"},
    "crack-check": {"method": "dye penetrant"},
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
    assert (row.kind, row.verdict) == (step.kind.tests_by, IntegrityVerdict.PASSED)
    assert row.conditions in last_entry(db, row).note


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
    integrity_tests.correct(db, machinist, row, {"result": "failed"}, "misread")
    assert limit_checks.undecided(step) == [row]
    entry = last_entry(db, row)
    assert (entry.changes["verdict"], entry.note) == (["passed", "failed"], "misread")


def test_a_decision_on_a_test_is_on_that_test_alone(db: Session, machinist: Actor, visit: Visit):
    step = visit.operations[0]
    failed(db, machinist, step)
    (row,) = decisions.decide(db, machinist, step, "do it again", "gasket slipped")
    db.flush()
    assert (row.measurement_id, row.integrity_test) == (None, step.integrity_tests[0])
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


def test_each_place_has_its_own_result_and_its_name(db: Session, machinist: Actor):
    visit = factories.create_planned_visit(db)
    step = factories.create_operation(db, visit, "pressure-test")
    for place, where in (
        ({}, ""),
        ({"part": "cylinder", "cylinder": "2"}, "cylinder 2"),
        ({"part": "port", "cylinder": "2", "side": "exhaust"}, "cylinder 2, exhaust port"),
        (
            {"part": "guide", "cylinder": "3", "side": "intake", "valve": "rear"},
            "cylinder 3, rear intake guide",
        ),
        ({"place": "bolt holes of cylinder 4"}, "bolt holes of cylinder 4"),
    ):
        row = integrity_tests.record(db, machinist, step, {**WATER, "result": "passed", **place})
        assert row.where == where
    assert len(limit_checks.latest_tests(visit.integrity_tests)) == 5
    assert step.integrity_tests == visit.integrity_tests


@pytest.mark.parametrize(
    ("place", "field"),
    [
        ({"part": "region"}, "place"),
        ({"part": "cylinder"}, "cylinder"),
        ({"part": "cylinder", "cylinder": "9"}, "cylinder"),
        ({"part": "port", "cylinder": "1"}, "side"),
        ({"part": "valve", "cylinder": "1", "side": "intake"}, "valve"),
        ({"part": "valve", "cylinder": "1", "side": "intake", "valve": "upper"}, "valve"),
        ({"part": "spark plug"}, "part"),
    ],
)
def test_a_place_the_head_lacks_is_refused_at_its_field(
    db: Session, machinist: Actor, place: dict[str, str], field: str
):
    visit = factories.create_planned_visit(db)
    with faults_at(field):
        values = {**WATER, "result": "passed", **place}
        integrity_tests.add(db, machinist, visit, IntegrityKind.PRESSURE, values)


def vacuum(db: Session, by: Actor, visit: Visit, value: str, **rest: str) -> IntegrityTest:
    values = {"medium": "air", "pressure": value, "duration": "30 s", **rest}
    place = {"part": "valve", "cylinder": "1", "side": "intake", "valve": "front"}
    return integrity_tests.add(db, by, visit, IntegrityKind.VACUUM, {**place, **values})


def test_limits_propose_a_verdict_and_the_person_decides(db: Session, machinist: Actor):
    visit = factories.create_planned_visit(db)
    with faults_at("result"):
        vacuum(db, machinist, visit, "22 inHg")
    values = {"least_pressure": "20 inHg", "least_duration": "20 s", "source": "common practice"}
    engine_type = visit.head.engine_type
    integrity_limits.set_(db, machinist, engine_type, "vacuum test", "", values)
    good, bad = vacuum(db, machinist, visit, "20 inHg"), vacuum(db, machinist, visit, "60 kPa")
    # 20 inHg is 67.7 kPa.
    assert (good.verdict, bad.verdict) == (IntegrityVerdict.PASSED, IntegrityVerdict.FAILED)
    assert bad.limits == "from 20 inHg, held 20 s"
    watched = vacuum(db, machinist, visit, "19 inHg", result="watch")
    assert (watched.proposed, watched.verdict) == (IntegrityVerdict.FAILED, IntegrityVerdict.WATCH)
    assert not watched.stops
    with faults_at("result"):
        # Too short a test proves nothing.
        vacuum(db, machinist, visit, "22 inHg", duration="10 s")
    integrity_limits.set_(db, machinist, engine_type, "vacuum test", "", {"most_drop": "1 inHg"})
    integrity_tests.correct(db, machinist, bad, {"notes": "cold"}, "forgot")
    assert bad.limits == "from 20 inHg, held 20 s"
    integrity_tests.correct(db, machinist, bad, {"drop": "0.5 inHg", "result": ""}, "drop read")
    assert (bad.limits, bad.verdict) == ("drop to 1 inHg", IntegrityVerdict.PASSED)


def test_all_valves_are_recorded_at_once_or_none(db: Session, machinist: Actor):
    visit = factories.create_planned_visit(db)
    shared = {"medium": "air", "method": "cup on the port", "duration": "30 s"}
    row = {"cylinder": 1, "side": "exhaust", "result": "passed", "pressure": "22 inHg"}
    rows = {0: {**row, "valve": "1"}, 3: {**row, "valve": "2", "pressure": "22"}}
    with faults_at("rows-3-pressure"):
        integrity_tests.add_valves(db, machinist, visit, IntegrityKind.VACUUM, shared, rows)
    with refused("enter at least one"):
        integrity_tests.add_valves(db, machinist, visit, IntegrityKind.VACUUM, shared, {})
    rows[3]["pressure"] = "18 inHg"
    visit = factories.create_planned_visit(db)
    saved = integrity_tests.add_valves(db, machinist, visit, IntegrityKind.VACUUM, shared, rows)
    assert [test.where for test in saved] == [
        "cylinder 1, front exhaust valve", "cylinder 1, rear exhaust valve",
    ]  # fmt: skip


def test_a_withdrawn_test_counts_nowhere_and_stays_on_record(
    db: Session, machinist: Actor, visit: Visit
):
    step = visit.operations[0]
    failed(db, machinist, step)
    (row,) = step.integrity_tests
    with faults_at("reason"):
        integrity_tests.withdraw(db, machinist, row, " ")
    integrity_tests.withdraw(db, machinist, row, "plate leaked")
    assert (step.integrity_tests, visit.integrity_tests) == ([], [])
    assert visit.withdrawn_integrity_tests == [row]
    assert limit_checks.undecided(step) == []
    with refused("has no result"):
        operations.sign_off(db, machinist, step, {})
    for again in (
        lambda: integrity_tests.withdraw(db, machinist, row, "again"),
        lambda: integrity_tests.correct(db, machinist, row, {}, "again"),
    ):
        with refused("is withdrawn"):
            again()


def test_something_repairable_stops_the_head_and_can_be_asked_about(
    db: Session, machinist: Actor, visit: Visit
):
    step = visit.operations[0]
    operations.start(db, machinist, step)
    failed(db, machinist, step, result="repairable", spot="core plug 2 weeps")
    with refused("Pressure test needs a repair"):
        operations.sign_off(db, machinist, step, {})
    decisions.decide(db, machinist, step, "ask the customer", "new core plug")
    assert limit_checks.asks_customer(visit.operations)


def test_the_leak_follows_from_volume_drop_and_time(db: Session, machinist: Actor, visit: Visit):
    values = {**WATER, "medium": "air", "result": "watch", "drop": "10 kPa", "duration": "60 s"}
    row = integrity_tests.record(db, machinist, visit.operations[0], values)
    assert integrity_tests.leak_of(row) is None
    integrity_tests.correct(db, machinist, row, {"volume": "1.01325 L"}, "measured by filling")
    # A litre that loses a tenth of 101.325 kPa loses a tenth of a litre: 100 cm3 in a minute.
    assert integrity_tests.leak_of(row) == pytest.approx(100e-6 / 60, rel=1e-9)


def test_a_test_beside_the_work_plan_and_a_photo_of_another_job(
    db: Session, machinist: Actor, visit: Visit
):
    values = {"method": "dye penetrant", "result": "failed", "temperature": "180 degF"}
    row = integrity_tests.add(db, machinist, visit, IntegrityKind.CRACK, values)
    assert (row.operation, row.conditions) == (None, "dye penetrant, at 180 degF")
    assert visit.integrity_tests == [row]
    with faults_at("photo_id"):
        correct = {"photo_id": "4711"}
        integrity_tests.correct(db, machinist, row, correct, "wrong picture")
