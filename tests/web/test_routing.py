"""Work on a head's routing: time, order, figures outside limits, approval, the shop's own kinds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopflow.models import OperationState, Role
from shopflow.services.actor import Actor
from shopflow.services.measuring import integrity_tests, limits, measurements
from shopflow.services.routing import operations, time_tracking, work_plans
from tests import factories
from tests.factories import create_visit, someone


@pytest.fixture
def visit(db, by):
    """A head whose work is approved."""
    answer = create_visit(db)
    factories.approve(db, by, answer.job, "Ada", "telephone")
    return answer


@pytest.fixture
def plan(db, by, visit):
    """A maker of steps on that head."""

    def add(code, **values):
        kind = operations.kind_by_code(db, code)
        return factories.agree(db, by, operations.add(db, by, visit, kind.id, values))

    return add


@pytest.fixture
def measured_out(db, by, visit, plan):
    """A seat cut of that head, in hand, with a run-out outside its limit."""
    step = plan("seat-cut")
    plan("flow-test")
    operations.start(db, someone(db), step)
    kind = measurements.kind_by_code(db, "seat run-out")
    values = {"value": "0.09 mm", "upper": "0.04 mm", "cylinder": "3", "side": "exhaust"}
    measurements.record(db, by, visit, kind.id, values, step)
    return step


def test_a_step_is_paused_and_taken_up_and_the_page_says_who_is_at_it(client, db, visit, plan):
    step = plan("hot-wash")
    page = client.press(f"/heads/{visit.tag}", "Start step")
    assert "Nila Owner working since" in page.text
    assert "Nila Owner working since" in client.page(f"/jobs/{visit.job.number}").text
    page = client.press(page, "Pause step")
    assert page.notices == ["Your time stopped: Hot-wash."]
    assert "working since" not in page.text
    page = client.press(page, "Resume step")
    assert page.notices == ["Assigned to you: Hot-wash."]
    db.expire_all()
    assert len(step.stretches) == 2


def test_two_people_work_on_one_step_and_another_start_stops_the_first(
    client, signed_in, db, visit, plan
):
    plan("hot-wash")
    other = plan("teardown")
    client.press(f"/heads/{visit.tag}", "Start step")
    page = signed_in(Role.MACHINIST).press(f"/heads/{visit.tag}", "Join step")
    assert "Nila Owner working since" in page.text
    assert "Nila Machinist working since" in page.text
    token = client.page("/me").tree.xpath("//input[@name='csrf_token']/@value")[0]
    client.post(f"/steps/{other.id}/start", data={"csrf_token": token})
    page = client.page(f"/heads/{visit.tag}")
    assert f"Your time stopped: Hot-wash, {visit.tag}." in page.notices[0]


def test_the_minutes_that_ran_are_offered_and_can_be_overtyped(client, db, visit, plan):
    step = plan("hot-wash")
    now = datetime.now(UTC)
    begun = Actor(someone(db).person, now - timedelta(minutes=50))
    operations.start(db, begun, step)
    page = client.page(f"/steps/{step.id}/sign-off")
    assert page.value("actual_minutes") == "50"
    client.submit(page, {"actual_minutes": "45"})
    db.expire_all()
    assert (step.actual_minutes, time_tracking.running(db)) == (45, [])


def test_time_left_running_overnight_is_pointed_out_and_put_right(client, db, visit, plan):
    step = plan("hot-wash")
    begun = Actor(someone(db, "Odile Marsh").person, datetime.now(UTC) - timedelta(days=2))
    operations.start(db, begun, step)
    (stretch,) = step.stretches
    page = client.page(f"/heads/{visit.tag}")
    assert "was left running overnight" in page.text
    assert "was left running overnight" in client.page(f"/jobs/{visit.job.number}").text
    page = client.page(page.links["Enter end time"])
    assert page.value("ended_at") == ""
    assert client.submit(page, status=422).fault("ended_at") == "Required: enter a value"
    early = client.submit(page, {"ended_at": "2020-01-01T10:00"}, status=422)
    assert early.fault("ended_at") == "This is before the start: enter a later time"
    started = page.value("started_at")
    page = client.submit(page, {"ended_at": started})
    assert "corrected:" in page.notices[0]
    assert "Odile Marsh" in page.text
    db.expire_all()
    assert not stretch.runs


def test_a_step_is_moved_to_any_place_and_repeated(client, db, visit, plan):
    first, second, third = plan("teardown"), plan("hot-wash"), plan("crack-check")
    page = client.page(f"/steps/{third.id}/place")
    assert "before 1. Tear down" in page.text
    client.submit(page, {"number": "1"})
    db.expire_all()
    assert visit.operations == [third, first, second]
    address = f"/steps/{second.id}/repeat"
    assert client.submit(address, status=422).fault("reason") == "Required: enter a value"
    page = client.submit(address, {"reason": "still greasy"})
    assert "Repeat: still greasy" in page.text
    client.submit(f"/steps/{first.id}/place", {"number": "3"})
    integrity_tests.record(db, someone(db), third, {"method": "dye", "result": "passed"})
    operations.sign_off(db, someone(db), third, {})
    page = client.submit(f"/steps/{first.id}/place", {"number": "1"}, status=422)
    assert page.fault("number")


def test_a_figure_outside_stops_the_routing_until_it_is_decided(client, db, visit, measured_out):
    page = client.page(f"/heads/{visit.tag}")
    assert "Work is on hold until someone decides how to continue." in page.text
    assert "Seat run-out, cylinder 3 exhaust: 0.09 mm" in page.text
    assert "not measured" in page.text
    refused = client.submit(f"/steps/{measured_out.id}/sign-off", status=422)
    assert "decide how to continue" in refused.alerts
    page = client.page(page.links["Record decision"])
    assert client.submit(page, status=422).fault("choice") == "Required: choose one"
    page = client.submit(page, {"choice": "ask the customer", "reason": "a new seat is 40 more"})
    assert "until the customer answers" in page.text
    page = client.submit(
        page.links["Record answer"], {"choice": "go on as it is", "reason": "Ada says so"}
    )
    assert "stands still" not in page.text
    assert "Go on as it is: Ada says so" in page.text
    left_out = {"not_measured_because": "old seats, to be cut out"}
    client.submit(page, left_out, action=f"/steps/{measured_out.id}/sign-off")
    db.expire_all()
    assert measured_out.state is OperationState.DONE
    assert "No result of this step needs" in client.page(f"/steps/{measured_out.id}/decide").text


def test_the_counter_sees_the_stop_but_the_workshop_decides(signed_in, visit, measured_out):
    counter = signed_in(Role.COUNTER)
    page = counter.page(f"/heads/{visit.tag}")
    assert "Work is on hold" in page.text
    assert "Record decision" not in page.links
    counter.page(f"/steps/{measured_out.id}/decide", status=403)


def test_work_found_leads_to_the_quotes_next_revision_and_one_approval(client, db, visit, plan):
    plan("seat-cut")
    client.submit(f"/jobs/{visit.job.number}/quote", {"look": None})
    page = client.submit(f"/jobs/{visit.job.number}/approve", {"approved_how": "telephone"})
    assert page.notices == ["Quote Q-2026-0001 is approved. Work may start."]
    page = client.page(client.page(f"/heads/{visit.tag}").links["Add extra work"])
    kind = operations.kind_by_code(db, "weld-repair")
    page = client.submit(page, {"kind_id": str(kind.id), "price": "180"})
    assert page.path.endswith("/quote")
    client.submit(page, {"look": None})
    page = client.page(f"/jobs/{visit.job.number}")
    assert "Extra work, not approved yet." in page.text
    page = client.page(
        next(to for words, to in page.links.items() if words.startswith("Record approval"))
    )
    given = {"approved_how": "in person", "detail": "at the counter"}
    page = client.submit(page, given)
    assert "not approved yet" not in page.text
    money = client.page(f"/jobs/{visit.job.number}/money")
    assert "in person, at the counter" in money.text


def test_the_machinist_adds_what_was_found_and_the_counter_asks(signed_in, db, visit):
    client = signed_in(Role.MACHINIST)
    kind = operations.kind_by_code(db, "weld-repair")
    page = client.submit(f"/heads/{visit.tag}/steps/extra", {"kind_id": str(kind.id)})
    assert "The counter asks the customer" in page.notices[0]
    assert "extra, not approved yet" in page.text


def test_a_quote_given_meanwhile_is_not_approved_unseen(client, db, visit, plan):
    plan("seat-cut")
    address = f"/jobs/{visit.job.number}"
    client.submit(f"{address}/quote", {"look": None})
    page = client.page(f"{address}/approve")
    client.submit(f"{address}/quote", {"look": None})
    page = client.submit(page, {"approved_how": "telephone"}, status=422)
    assert "another quote was sent meanwhile" in page.alerts.lower()
    assert "Q-2026-0001 revision 2" in page.heading
    page = client.submit(page)
    assert "revision 2 is approved" in page.notices[0]


def test_the_owner_releases_work_ahead_of_approval(client, signed_in, db, by):
    visit = create_visit(db)
    kind = operations.kind_by_code(db, "seat-cut")
    step = operations.add(db, by, visit, kind.id, {})
    address = f"/jobs/{visit.job.number}/release"
    signed_in(Role.MACHINIST).page(address, status=403)
    assert client.submit(address, status=422).fault("reason") == "Required: enter a value"
    page = client.submit(address, {"steps": [], "reason": "he is away"}, status=422)
    assert "no step waits" in page.alerts.lower()
    page = client.submit(address, {"reason": "he is away"})
    assert "Released before approval by Nila Owner" in page.text
    client.press(f"/heads/{visit.tag}", "Start step")
    db.expire_all()
    assert step.state is OperationState.STARTED
    assert "No step waits for approval" in client.page(address).text


def test_limits_of_an_engine_type_are_set_and_taken_out(client, db, visit):
    engine_type = visit.head.engine_type
    address = f"/engines/{engine_type.id}/limits"
    kind = measurements.kind_by_code(db, "guide clearance")
    assert client.submit(address, status=422).fault("kind_id") == "Required: choose one"
    values = {"kind_id": str(kind.id), "lower": "wide"}
    assert "wide" in client.submit(address, values, status=422).fault("lower")
    page = client.submit(address, {**values, "lower": "0.02 mm", "source": "manual, page 12"})
    assert page.rows[0][:5] == ["Guide clearance", "both", "0.02 mm", "–", "manual, page 12"]
    client.press(page, "Remove limit")
    assert limits.of_engine_type(db, engine_type) == []
    assert "Limits" in client.page(f"/engines/{engine_type.id}").links


def test_the_shop_adds_changes_and_retires_a_kind_of_its_own(client, db, visit):
    page = client.page("/step-kinds/new")
    values = {"name": "Pinning a crack", "usual_minutes": "75", "cuts_metal": "y"}
    page = client.submit(page, values, status=422)
    assert "choose the hazards" in page.text.lower()
    page = client.submit(page, {"cautions": ["dust", "rotating"], "asks_for": ["deck flatness"]})
    assert page.notices == ["Step type added: Pinning a crack."]
    kind = operations.kind_by_code(db, "pinning-a-crack")
    page = client.page(f"/step-kinds/{kind.id}/change")
    client.submit(page, {"usual_minutes": "80"})
    routing = work_plans.save(db, Actor(None, datetime.now(UTC)), "Cracks", "", [
        {"kind": kind.code},
    ])  # fmt: skip
    page = client.page("/step-kinds")
    address = f"/step-kinds/{kind.id}/retire"
    assert "was archived" in client.submit(page, action=address).notices[0]
    offered = client.page(f"/heads/{visit.tag}/steps/new").text
    assert "Pinning" not in offered
    # A routing that has it keeps it.
    client.submit(f"/work-plans/{routing.id}/change", {"notes": "rare"})
    client.submit("/step-kinds", action=f"/step-kinds/{kind.id}/bring_back")
    assert "Pinning" in client.page(f"/heads/{visit.tag}/steps/new").text
    db.expire_all()
    assert (kind.usual_minutes, kind.cautions) == (80, ["dust", "rotating"])


def test_a_built_in_kind_keeps_its_name_and_cautions(client, db):
    kind = operations.kind_by_code(db, "seat-cut")
    page = client.page(f"/step-kinds/{kind.id}/change")
    assert "Built in" in page.text
    assert not page.tree.xpath("//main//*[@name='name' or @name='cautions']")
    client.submit(page, {"usual_price": "175.00"})
    db.expire_all()
    assert str(kind.usual_price) == "175.00"
