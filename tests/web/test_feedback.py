"""Errors in title and summary, success announced, and acts undone from their message."""

from __future__ import annotations

from shopflow.models import JobState, OperationState
from shopflow.services.actor import Actor
from shopflow.services.routing import operations
from tests import factories
from tests.factories import BY, create_job, create_operation


def test_a_refused_form_says_so_in_its_title_and_links_to_its_fields(client):
    assert not client.page("/engines/new").title.startswith("Error:")
    page = client.submit("/engines/new", {"bore": "81 quarts"}, status=422)
    assert page.title.startswith("Error: ")
    (summary,) = page.tree.xpath("//main//*[@class='faults']")
    assert summary.get("tabindex") == "-1"
    assert summary.get("autofocus") is not None
    links = {link.text_content(): link.get("href")[1:] for link in summary.findall(".//a")}
    assert any(words.startswith("Bore: ") for words in links)
    assert all(page.tree.get_element_by_id(target) is not None for target in links.values())


def test_links_of_a_booking_lead_to_its_nested_fields_and_choices(client, db):
    head = factories.create_head(db, serial="X-77")
    page = client.submit("/jobs/new", {"heads-0-serial": head.serial}, status=422)
    links = page.tree.xpath("//main//*[@class='faults']//a/@href")
    assert "#heads-0-head_id-0" in links
    assert all(page.tree.get_element_by_id(link[1:]) is not None for link in links)


def approved(db):
    job = create_job(db)
    step = create_operation(db, job.heads[0], "hot-wash", price="60")
    factories.approve(db, BY, job)
    return job, step


def test_a_sign_off_is_undone_from_its_message(client, db):
    job, step = approved(db)
    page = client.press(f"/heads/{job.heads[0].tag}", "Start step")
    page = client.press(page, "Sign off step")
    assert page.notices == ["Signed off: Hot-wash."]
    client.press(page, "Undo: Signed off: Hot-wash.")
    db.expire_all()
    assert step.state is OperationState.PLANNED


def test_a_job_marked_ready_goes_back_to_work_from_its_message(client, db):
    job, step = approved(db)
    machinist = factories.create_person(db, login="idris")
    operations.sign_off(db, Actor(machinist, BY.at), step, {})
    page = client.press(f"/jobs/{job.number}", "Mark ready")
    client.press(page, f"Undo: Job {job.number} is ready.")
    db.expire_all()
    assert job.state is JobState.IN_WORK


def test_what_cannot_be_undone_has_no_such_button(client):
    page = client.submit("/customers/new", {"name": "Orla Finch"})
    assert page.notices
    assert not page.tree.xpath("//*[contains(@class, 'announced')]//button")
