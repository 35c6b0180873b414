"""The plain data that papers are made from."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import calibrations, sessions, test_results
from shopflow.services.measuring import measurements
from shopflow.services.routing import operations, work_orders
from tests import factories
from tests.cli.sessions import INTAKE_US


def test_a_work_order_tells_the_job_its_heads_and_their_steps(db: Session, machinist: Actor):
    factories.create_shop(db, web_address="https://shop.example/")
    visit = factories.create_visit(
        db, head_count=2, boost="20 psi", rev_limit_rpm="7200", intake_lift="0.450 in"
    )
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    done = factories.create_operation(db, visit, "teardown", instructions="keep the order")
    operations.sign_off(db, machinist, done, {"not_measured_because": "springs are replaced"})
    factories.create_operation(db, visit, "seat-cut")
    factories.create_operation(db, visit, "port-work")
    order = work_orders.work_order(db, visit.job)
    assert order.job.number == visit.job.number
    assert (order.job.boost, order.job.rev_limit, order.job.intake_lift) == (
        "20 psi",
        "7200 rpm",
        "0.450 in",
    )
    assert order.job.approval.startswith("Cal Pruitt, telephone, 2026-03-05")
    assert [head.head.tag for head in order.heads] == [row.tag for row in visit.job.heads]
    first, second = order.heads
    assert next((step.name, step.state, step.by) for step in first.steps) == (
        "Tear down",
        "done",
        "Odile Marsh",
    )
    # Each hazard once, in the order the steps meet it.
    assert first.cautions == ("rotating", "dust")
    assert second.steps == ()
    assert first.url == f"https://shop.example/jobs/{visit.job.number}"


def test_a_step_leaves_blanks_for_what_is_not_measured_yet(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit, "resurface")
    kind = measurements.kind_by_code(db, "deck flatness")
    values = {"value": "0.002 in", "upper": "0.003 in"}
    measurements.record(db, machinist, visit, kind.id, values, step)
    (head,) = work_orders.work_order(db, visit.job).heads
    assert head.steps[0].blanks == ("Head thickness",)
    (row,) = head.measured
    assert (row.value, row.limits, row.verdict) == ("0.002 in", "to 0.003 in", "within limits")


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head in the shop."""
    return factories.create_visit(db)


@pytest.mark.parametrize(
    ("due_on", "overdue"), [("2026-02-02", True), ("2026-02-03", False), ("", False)]
)
def test_an_overdue_calibration_is_said_plainly(
    db: Session, by: Actor, visit: Visit, due_on: str, overdue: bool
):
    bench = factories.create_bench(db, name="north")
    values = {"identifier": "N-7", "expanded_uncertainty": "1.2 %", "made_on": "2025-02-03",
              "due_on": due_on, "reference": "plate 2", "certificate_number": "MP2"}  # fmt: skip
    calibrations.calibrate(db, by, bench.ranges[0], values)
    measured = INTAKE_US.replace(
        'side = "intake"', 'side = "intake"\nmeasured_at = 2026-02-03T10:00:00'
    )
    calibration = test_results.session_result(
        factories.create_session(db, visit, measured)
    ).calibration
    assert calibration.startswith("N-7 of 2025-02-03")
    assert "plate 2" in calibration
    assert ("OVERDUE since 2026-02-02" in calibration) is overdue


def test_a_calibration_not_on_file_is_said_too(db: Session, visit: Visit):
    calibration = test_results.session_result(factories.create_session(db, visit)).calibration
    assert "N-7" in calibration
    assert "no calibration on record here" in calibration


def test_a_result_carries_the_figures_and_what_was_left_out(
    db: Session, machinist: Actor, visit: Visit
):
    row = factories.create_session(db, visit)
    sessions.exclude(db, machinist, row.lifts[2].readings[1], "clay fell off")
    result = test_results.session_result(row)
    answer = sessions.reduction(row)
    assert [point.flow for point in result.points] == [point.flow for point in answer.points]
    assert result.mean_flow == answer.mean_flow
    (left_out,) = result.excluded
    assert left_out.reason == "clay fell off"
    assert "101.5" in left_out.flow
