"""Saved routings: made, changed by replacing their steps, kept apart from heads' own."""

from __future__ import annotations

import pytest

from shopflow.models import Role
from shopflow.services.routing import operations, work_plans
from tests.factories import create_visit


@pytest.fixture
def routing(db, by):
    """A routing of two steps."""
    steps = [{"kind": "teardown"}, {"kind": "hot-wash", "price": "50.00"}]
    work_plan = work_plans.save(db, by, "Wash", "grease", steps)
    db.commit()
    return work_plan


def test_a_routing_is_made_and_rows_without_a_step_are_left_out(client, db):
    page = client.submit(
        "/work-plans/new",
        {"name": "Valve job", "steps-1-kind": "seat-cut", "steps-1-planned_minutes": "80"},
    )
    assert page.notices == ["Valve job is saved."]
    (row,) = work_plans.list_all(db)
    (step,) = row.steps
    assert (step.kind.code, step.planned_minutes, step.price) == ("seat-cut", 80, None)


def test_its_steps_are_replaced_and_a_head_planned_by_it_keeps_its_own(client, db, by, routing):
    visit = create_visit(db)
    operations.add_routing(db, by, visit, routing)
    page = client.page(f"/work-plans/{routing.id}/change")
    assert page.value("steps-1-price") == "50.00"
    client.submit(page, {"steps-0-kind": "", "steps-2-kind": "crack-check"})
    db.expire_all()
    assert [step.kind.code for step in routing.steps] == ["hot-wash", "crack-check"]
    assert [step.position for step in routing.steps] == [1, 2]
    assert [step.kind.code for step in visit.operations] == ["teardown", "hot-wash"]


def test_a_step_moves_up_and_more_can_be_added_with_nothing_lost(client, db, routing):
    page = client.page(f"/work-plans/{routing.id}/change")
    page = client.press(page, "Move up step 2")
    assert page.value("steps-0-kind") == "hot-wash"
    assert page.value("steps-1-kind") == "teardown"
    page = client.press(page, "Add steps")
    assert page.value("steps-5-kind") == ""
    client.submit(page)
    db.expire_all()
    assert [step.kind.code for step in routing.steps] == ["hot-wash", "teardown"]


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"name": ""}, "name", "required: enter a value"),
        ({"name": "Wash"}, "name", "this name is taken"),
        ({"steps-0-planned_minutes": "long"}, "steps-0-planned_minutes", "whole number"),
        ({"steps-0-price": "-1"}, "steps-0-price", "is too low"),
        ({"steps-0-instructions": "\x00"}, "steps-0-instructions", "cannot be stored"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(client, db, routing, typed, field, words):
    values = {"name": "Other", "steps-0-kind": "teardown", **typed}
    page = client.submit("/work-plans/new", values, status=422)
    assert words in page.fault(field).lower()
    assert len(work_plans.list_all(db)) == 1


def test_a_routing_without_steps_is_refused(client):
    page = client.submit("/work-plans/new", {"name": "Empty"}, status=422)
    assert "choose at least one" in page.text


def test_two_editors_do_not_overwrite_each_other(client, db, by, routing):
    page = client.page(f"/work-plans/{routing.id}/change")
    work_plans.change(db, by, routing, "Wash", "grease", [{"kind": "crack-check"}])
    page = client.submit(page)
    assert page.notices[0].startswith("Includes what")
    db.expire_all()
    assert [step.kind.code for step in routing.steps] == ["crack-check"]


def test_the_office_saves_them_and_the_rest_read_them(signed_in, routing):
    for role, status in ((Role.COUNTER, 200), (Role.MACHINIST, 403), (Role.READER, 403)):
        signed_in(role).page("/work-plans")
        signed_in(role).page("/work-plans/new", status=status)


def test_a_routing_with_steps_not_priced_yet_is_shown_with_the_sum_of_the_others(client, db, by):
    steps = [{"kind": "teardown", "price": "60.00"}, {"kind": "port-work", "price": ""}]
    work_plans.save(db, by, "Half priced", "", steps)
    db.commit()
    assert "60.00 before tax, 1 step without a price" in client.page("/work-plans").text
