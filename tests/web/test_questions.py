"""Questions for customers and test results in the browser: asked at the bench, then answered."""

from __future__ import annotations

import pytest

from shopflow.models import Role
from shopflow.services.routing import operations
from tests.factories import BY, approve, create_operation, create_visit


@pytest.fixture
def visit(db, shop):
    """A head with a pressure test and an assembly approved."""
    visit = create_visit(db)
    for kind in ("pressure-test", "assembly"):
        create_operation(db, visit, kind)
    approve(db, BY, visit.job, "Ada Tarn")
    return visit


def test_a_failed_pressure_test_is_asked_about_queued_and_answered_by_the_counter(signed_in, visit):
    machinist, counter = signed_in(Role.MACHINIST), signed_in(Role.COUNTER)
    page = machinist.press(f"/heads/{visit.tag}", "Start step")
    assert "needs a result before sign-off" in page.text
    step = visit.operations[0]
    refused = machinist.submit(f"/steps/{step.id}/sign-off", status=422)
    assert "record the pressure test before you sign it off" in refused.alerts
    page = machinist.page(page.links["Record test result"])
    assert "compressed air stores energy" in page.text
    refused = machinist.submit(page, {"medium": "water"}, status=422)
    assert refused.fault("pressure")
    assert refused.fault("result") == "Required: choose one"
    values = {"medium": "water", "pressure": "40 psi", "duration": "10 min", "drop": "6 psi"}
    page = machinist.submit(page, {**values, "result": "failed", "notes": "weeps at plug 2"})
    assert "Decide how to continue" in page.heading
    on_head = machinist.page(f"/heads/{visit.tag}")
    assert "Work is on hold until someone decides how to continue." in on_head.text
    assert "water, 40 psi, 10 min, drop 6 psi" in on_head.text
    page = machinist.submit(page, {"choice": "ask the customer", "reason": "new plugs are 30"})
    assert "nobody is on it now" in page.text
    (row,) = counter.page("/").rows
    assert row[3] == "Waiting for the customer's answer"
    assert row[4].startswith("Customer Record answer: Pressure-test")
    queue = counter.page(counter.page("/").links["Show questions"])
    assert "new plugs are 30" in queue.text
    assert "Nila Machinist" in queue.text
    (link,) = (link for link in queue.links if link.startswith("Record answer"))
    answer = {"choice": "go on as it is", "reason": "fit new plugs, says Ada"}
    counter.submit(queue.links[link], answer)
    assert "No open questions" in counter.page("/questions").text
    (row,) = counter.page("/").rows
    assert row[3] == "Started: Pressure-test"
    assert row[4].startswith("Workshop started by Nila Machinist")
    log = counter.page(f"/jobs/{visit.job.number}").text
    assert "weeps" not in row[3]
    assert "pressure test: failed (Pressure test, " in log


def test_a_reader_sees_the_questions_and_answers_none(signed_in, visit):
    reader = signed_in(Role.READER)
    assert reader.page("/questions").heading == "Questions for customers"
    reader.page(f"/steps/{visit.operations[0].id}/answer", status=403)


def test_extra_work_from_the_bench_is_placed_queued_and_on_the_floor(signed_in, db, visit):
    machinist, counter = signed_in(Role.MACHINIST), signed_in(Role.COUNTER)
    kind = operations.kind_by_code(db, "guide")
    page = machinist.submit(f"/heads/{visit.tag}/steps/extra", {"kind_id": str(kind.id)})
    assert "Planned as step 2:" in page.notices[0]
    (row,) = counter.page("/").rows
    assert "Extra work to quote Fit and size guides" in row[3]
    assert row[4].startswith("Counter Revise quote: ")
    queue = counter.page("/questions")
    assert "Extra work: Fit and size guides" in queue.text
    assert any(link.startswith("Send quote") for link in queue.links)


def test_missing_measurements_are_named_at_sign_off_and_the_reason_is_shown(client, db, visit):
    step = visit.operations[1]
    client.post(f"/steps/{step.id}/start")
    address = f"/steps/{step.id}/sign-off"
    page = client.page(address)
    assert "Missing: installed height of the spring, load on the seat, chamber volume." in page.text
    page = client.submit(page, status=422)
    assert page.fault("not_measured_because").startswith(
        "Measure installed height of the spring, load on the seat"
    )
    page = client.submit(page, {"not_measured_because": "no springs came with it"})
    assert "Not measured: no springs came with it" in page.text


def test_a_step_that_tests_nothing_has_no_result_to_record(client, visit):
    client.page(f"/steps/{visit.operations[1].id}/test-result", status=404)
