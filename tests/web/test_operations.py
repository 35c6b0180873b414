"""Planning, doing and signing off the steps of a head's routing."""

from __future__ import annotations

import pytest

from shopflow.models import OperationState, Role
from shopflow.services.routing import operations, work_plans
from tests import factories
from tests.factories import create_visit


@pytest.fixture
def visit(db):
    """A head whose work is approved."""
    answer = create_visit(db)
    db.commit()
    return answer


@pytest.fixture
def plan(db, by, visit):
    """A maker of steps on that head."""

    def add(code, **values):
        return operations.add(db, by, visit, operations.kind_by_code(db, code).id, values)

    return add


def test_a_step_is_added_with_the_usual_minutes_and_price_where_none_are_typed(client, db, visit):
    kind = operations.kind_by_code(db, "hot-wash")
    page = client.submit(f"/heads/{visit.tag}/steps/new", {"kind_id": str(kind.id)})
    assert page.notices == ["Step added: Hot-wash."]
    (step,) = visit.operations
    assert (step.planned_minutes, step.price) == (kind.usual_minutes, kind.usual_price)


def test_a_saved_routing_is_added_whole(client, db, by, visit):
    steps: list[dict[str, object]] = [
        {"kind": "teardown"},
        {"kind": "hot-wash", "planned_minutes": 55},
    ]
    routing = work_plans.save(db, by, "Wash", "", steps)
    address = f"/heads/{visit.tag}/steps/work-plan"
    client.submit(address, {"routing_id": str(routing.id)})
    assert [step.planned_minutes for step in visit.operations] == [45, 55]


def test_a_step_is_started_signed_off_and_named_with_its_person(client, db, visit, plan):
    step = plan("hot-wash")
    page = client.press(f"/heads/{visit.tag}", "Start step")
    assert "In progress since" in page.text
    address = f"/steps/{step.id}/sign-off"
    page = client.submit(page, {"actual_minutes": "50", "notes": "greasy"}, action=address)
    assert page.notices == ["Signed off: Hot-wash."]
    db.expire_all()
    assert step.state is OperationState.DONE
    assert (step.actual_minutes, step.signed_off_by.name) == (50, "Nila Owner")
    assert "All steps done" in page.text
    assert "Nila Owner" in page.text


@pytest.mark.parametrize("typed", ["soon", "-1", "9" * 50, "1.5", "\x00"])
def test_minutes_that_cannot_be_are_refused_at_their_field(client, db, plan, typed):
    step = plan("hot-wash")
    page = client.submit(
        f"/steps/{step.id}/sign-off", {"actual_minutes": typed, "notes": "kept"}, status=422
    )
    assert "hole number" in page.fault("actual_minutes")
    assert page.value("notes") == "kept"
    db.expire_all()
    assert step.state is OperationState.PLANNED


def test_no_metal_is_cut_before_the_customer_approves(client, db, by, visit, plan):
    step = plan("seat-cut")
    page = client.submit(f"/steps/{step.id}/sign-off", status=422)
    assert "approved" in page.alerts
    factories.approve(db, by, visit.job, "Ada", "telephone")
    client.press(f"/heads/{visit.tag}", "Start step")
    db.expire_all()
    assert step.state is OperationState.STARTED


def test_a_step_left_out_wants_a_reason_and_can_be_taken_up_again(client, db, visit, plan):
    step = plan("bead-blast")
    address = f"/steps/{step.id}/skip"
    assert client.submit(address, status=422).fault("skip_reason") == "Required: enter a value"
    page = client.submit(address, {"skip_reason": "aluminium, too soft"})
    assert "Skipped: aluminium, too soft" in page.text
    client.press(page, "Reopen step")
    db.expire_all()
    assert step.state is OperationState.PLANNED


def test_steps_change_places_but_never_pass_one_that_is_done(client, db, by, visit, plan):
    first, second, third = plan("teardown"), plan("hot-wash"), plan("crack-check")
    client.press(f"/heads/{visit.tag}", "Move down")
    db.expire_all()
    assert visit.operations == [second, first, third]
    _post(client, f"/steps/{second.id}/start", visit)
    _post(client, f"/steps/{second.id}/sign-off", visit)
    assert _post(client, f"/steps/{first.id}/earlier", visit).status_code == 409
    assert _post(client, f"/steps/{third.id}/later", visit).status_code == 302


def test_a_step_is_changed_and_two_editors_do_not_overwrite_each_other(client, db, by, plan):
    step = plan("hot-wash", instructions="mild soap")
    page = client.page(f"/steps/{step.id}/change")
    operations.change(db, by, step, {"instructions": "no caustic"})
    page = client.submit(page, {"instructions": "hot"}, status=422)
    assert "no caustic" in page.text
    client.submit(page, {"choice-instructions": "mine"})
    db.expire_all()
    assert step.instructions == "hot"


@pytest.mark.parametrize("way", ["start", "reopen", "earlier", "later"])
def test_what_is_no_operation_is_not_found(client, visit, way):
    assert _post(client, f"/steps/999/{way}", visit).status_code == 404


def test_the_machinist_works_the_steps_without_touching_prices(signed_in, db, visit, plan):
    step = plan("hot-wash", price="45.00")
    client = signed_in(Role.MACHINIST)
    page = client.page(f"/steps/{step.id}/change")
    assert "Price" not in page.text
    data = {
        "csrf_token": page.value("csrf_token"),
        "version": page.value("version"),
        "planned_minutes": "30",
        "price": "1.00",
    }
    assert client.post(f"/steps/{step.id}/change", data=data).status_code == 302
    db.expire_all()
    assert (step.planned_minutes, str(step.price)) == (30, "45.00")
    client.press(f"/heads/{visit.tag}", "Start step")


def test_the_counter_plans_but_does_not_sign_off_and_a_reader_does_neither(signed_in, plan):
    step = plan("hot-wash")
    counter, reader = signed_in(Role.COUNTER), signed_in(Role.READER)
    counter.page(f"/steps/{step.id}/sign-off", status=403)
    counter.page(f"/steps/{step.id}/change")
    reader.page(f"/steps/{step.id}/change", status=403)
    assert "Start step" not in reader.page(f"/heads/{step.job_head.tag}").text


def _post(client, address, visit):
    token = client.page(f"/heads/{visit.tag}/steps/new").value("csrf_token")
    return client.post(address, data={"csrf_token": token})
