"""The state of a casting on the pages: asked at booking, changed, and the total since stock."""

from __future__ import annotations

from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import AFTER_US, INTAKE_US


def test_the_state_is_chosen_on_the_heads_own_page_and_shown(client, db):
    visit = factories.create_visit(db)
    page = client.page(f"/heads/{visit.tag}/condition")
    shown = client.submit(page, {"casting_state": "as cast"})
    assert "Casting As cast" in shown.text
    assert "State of the casting" in client.page("/jobs/new").text


def test_a_state_that_contradicts_the_shops_own_work_is_told_at_its_field(client, db):
    first = factories.create_visit(db)
    step = factories.create_operation(db, first, "port-work")
    factories.approve(db, factories.BY, first.job)
    operations.sign_off(
        db, factories.someone(db), step, {"not_measured_because": "not asked for here"}
    )
    page = client.page(f"/jobs/new?head={first.head_id}")
    filled = {"heads-0-casting_state": "as cast", "customer-name": "Nils"}
    answer = client.submit(page, filled, status=422)
    assert f"“as cast” contradicts job {first.job.number}" in answer.text


def test_the_page_of_a_head_gives_the_total_since_stock(client, db):
    visit = factories.create_visit(db)
    jobs.change_visit(db, factories.BY, visit, {"casting_state": "as cast"})
    factories.create_session(db, visit, INTAKE_US)
    factories.create_session(db, visit, AFTER_US)
    text = client.page(f"/heads/{visit.head_id}").text
    assert "Total since stock" in text
    assert "Latest test against test as cast" in text
    assert "Work between them" in text
    assert "seat cut" in text
    jobs.change_visit(db, factories.BY, visit, {"casting_state": "unknown"})
    db.flush()
    assert "Total since stock" not in client.page(f"/heads/{visit.head_id}").text
