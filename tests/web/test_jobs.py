"""Booking in, the list of jobs, a job's page and the page of a head on it."""

from __future__ import annotations

import pytest

from shopflow.models import JobState, Role
from shopflow.services import audit_log
from shopflow.services.billing import payments
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.registry import customers
from shopflow.services.routing import operations, work_plans
from tests import factories
from tests.factories import (
    BY,
    create_customer,
    create_engine_type,
    create_head,
    create_job,
    create_operation,
    create_visit,
)
from tests.optional import present

NEW_JOB = {
    "customer-name": "Orla Finch",
    "engine_type-builder": "Hollin",
    "engine_type-family": "K7",
    "engine_type-cylinders": "4",
    "heads-0-serial": "A-1",
}


def test_one_page_books_in_customer_engine_type_head_and_job(client, db):
    page = client.submit(
        "/jobs/new",
        {
            **NEW_JOB,
            "job-boost": "20 psi",
            "job-promised_on": "2026-12-01",
            "deposit-amount": "150.50",
            "deposit-method": "cash",
        },
    )
    (job,) = jobs.recent(db)
    assert page.heading == f"Job {job.number}"
    assert job.customer.name == "Orla Finch"
    assert job.heads[0].head.engine_type.title == "Hollin K7"
    assert job.heads[0].head.engine_type.valves_per_cylinder == 2
    assert present(job.boost).text == "20 psi"
    assert [str(row.amount) for row in payments.of_job(db, job)] == ["150.50"]
    assert f"label {job.number}-A" in page.notices[0]


def test_steps_go_on_only_without_errors_and_keep_everything_typed(client, db):
    create_customer(db, name="Wren Motors")
    create_engine_type(db, builder="Vantera", family="V18T")
    page = client.page("/jobs/new")
    assert shown(page) == ["customer"]
    page = client.press(page, "Continue to engine type", status=422)
    assert page.fault("customer-name") == "Required: enter a value"
    assert page.fault("engine_type-builder") == ""
    page = _fill(client, page, {"customer_find": "wren", "go": "engine"}, status=422)
    assert "Choose a record below" in page.fault("customer_id")
    page = _fill(client, page, {"customer_id": chosen(page, "customer_id"), "go": "engine"})
    assert shown(page) == ["engine"]
    page = _fill(client, page, {"engine_find": "vantera", "look": "1"})
    page = _fill(client, page, {"engine_type_id": chosen(page, "engine_type_id"), "go": "heads"})
    assert shown(page) == ["heads"]
    page = _fill(client, page, {"heads-0-serial": "A-1", "go": "job"})
    page = _fill(client, page, {"job-boost": "20 psl", "go": "heads"})
    assert shown(page) == ["heads"]
    page = _fill(client, page, {"go": "job"})
    assert page.value("job-boost") == "20 psl"
    page = _fill(client, page, {"heads-0-serial": "s" * 300}, status=422)
    assert shown(page) == ["heads"]
    page = _fill(client, page, {"heads-0-serial": "A-1", "job-boost": "20 psi"})
    (job,) = jobs.recent(db)
    assert (job.customer.name, job.heads[0].head.serial) == ("Wren Motors", "A-1")


def test_new_records_are_asked_for_named_as_they_were_searched_for(client, db):
    create_customer(db, name="Wren Motors")
    page = client.page("/jobs/new")
    assert page.tree.get_element_by_id("new-customer").get("hidden") is not None
    page = _fill(client, page, {"customer_find": "Orla Finch", "new": "customer"})
    assert page.tree.get_element_by_id("new-customer").get("hidden") is None
    assert page.value("customer-name") == "Orla Finch"


def test_records_are_offered_while_they_are_typed(client, db):
    create_customer(db, name="Wren Motors")
    answer = client.get("/jobs/new/customer?q=wre")
    assert "Wren Motors" in answer.json["html"]
    assert client.get("/jobs/new/engine?q=%00").status_code == 200
    assert client.get("/jobs/new/heads?q=x").status_code == 404


def shown(page):
    return [part.get("id") for part in page.tree.xpath("//section[@class='part'][not(@hidden)]")]


def chosen(page, name):
    return page.tree.xpath("//input[@name=$name]/@value", name=name)[0]


def _fill(client, page, values, status=200):
    form = page.form("/jobs/new")
    data = {**dict(form.form_values()), **values}
    return client._page(client.post("/jobs/new", data=data), status)


def test_an_empty_form_says_at_each_field_what_is_needed_and_books_nothing(client, db):
    page = client.submit("/jobs/new", status=422)
    for name in ("customer-name", "engine_type-builder", "engine_type-family"):
        assert page.fault(name) == "Required: enter a value"
    assert jobs.recent(db) == []


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("job-boost", "20 psl", "did you mean 'psi'"),
        ("job-boost", "-3 psi", "0 or more"),
        ("job-rev_limit_rpm", "fast", "whole number"),
        ("job-rev_limit_rpm", "9" * 400, "whole number"),
        ("job-rev_limit_rpm", "9" * 6000, "whole number"),
        ("job-intake_lift", "0 in", "more than"),
        ("job-intake_lift", "1e999 in", "too large"),
        ("deposit-amount", "1.005", "decimals"),
        ("deposit-amount", "1e9999", "up to"),
        ("job-promised_on", "next week", "is not a date"),
        ("job-asked_for", "a\x00b", "cannot be stored"),
        ("customer-name", "n" * 201, "at most 200"),
        ("heads-0-casting_number", "c" * 101, "at most 100"),
        ("heads-0-condition", "\x00", "cannot be stored"),
        ("engine_type-cylinders", "0", "whole number from 1"),
        ("engine_type-aliases", "n" * 150, "at most 100"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_what_was_typed_stays(
    client, db, field, typed, words
):
    page = client.submit("/jobs/new", {**NEW_JOB, field: typed}, status=422)
    assert words in page.fault(field).lower()
    assert page.value("heads-0-serial") == "A-1"
    assert jobs.recent(db) == []
    assert customers.list_all(db) == []


def test_faults_of_every_part_show_in_one_go(client):
    values = {**NEW_JOB, "customer-name": "", "job-boost": "much", "heads-0-serial": "s" * 101}
    page = client.submit("/jobs/new", values, status=422)
    assert page.fault("customer-name")
    assert page.fault("job-boost")


def test_adding_a_head_loses_nothing_and_taking_one_off_only_that_one(client, db):
    typed = {"customer-name": "Zoë", "heads-0-serial": "left", "job-boost": "1 bar"}
    page = _post(client, {**typed, "add_head": "1"})
    assert page.value("customer-name") == "Zoë"
    assert page.value("heads-0-serial") == "left"
    assert page.value("job-boost") == "1 bar"
    assert page.value("heads-1-serial") == ""
    two = {**typed, "heads-1-serial": "right"}
    page = _post(client, {**two, "heads-0-remove": "1"})
    assert page.value("heads-0-serial") == "right"
    assert jobs.recent(db) == []


def test_two_heads_ride_on_one_job_with_a_saved_routing_each(client, db, by):
    routing = work_plans.save(db, by, "Valve job", "", [{"kind": "seat-cut"}])
    page = _post(
        client,
        {**NEW_JOB, "heads-1-serial": "A-2", "routing_id": str(routing.id)},
    )
    (job,) = jobs.recent(db)
    assert [visit.head.serial for visit in job.heads] == ["A-1", "A-2"]
    assert [visit.operations[0].kind.code for visit in job.heads] == ["seat-cut", "seat-cut"]
    assert page.heading == f"Job {job.number}"


def test_what_is_on_file_is_offered_and_taken(client, db):
    customer = create_customer(db, name="Wren Motors")
    engine_type = create_engine_type(db, builder="Vantera", family="V18T")
    create_engine_type(db, builder="Gannet", family="G9")
    look = {"customer_find": "wren", "engine_find": "vantara", "look": "1"}
    page = _post(client, look)
    assert "Wren Motors, 555 0100" in page.text
    assert "Vantera V18T" in page.text
    assert "Gannet" not in page.text
    chosen = {"customer_id": str(customer.id), "engine_type_id": str(engine_type.id)}
    _post(client, {**look, "look": "", **chosen, "heads-0-serial": "1"})
    (job,) = jobs.recent(db)
    assert job.customer == customer
    assert job.heads[0].head.engine_type == engine_type
    assert customers.list_all(db) == [customer]


def test_a_casting_seen_before_must_be_said_to_be_the_same_or_another(client, db):
    head = create_head(db, serial="X-77")
    values = {"customer-name": "Ada", "heads-0-serial": "x-77"}
    page = client.submit("/jobs/new", values, status=422)
    assert "Choose a record below" in page.fault("heads-0-head_id")
    assert "X-77" in page.text
    again = client.submit(
        page,
        {"heads-0-head_id": str(head.id), "heads-0-came_back_because": "Seat dropped"},
        action="/jobs/new",
    )
    assert again.heading.startswith("Job ")
    (job,) = jobs.recent(db)
    assert job.heads[0].head == head
    assert head.serial == "x-77"
    assert job.heads[0].came_back_because == "Seat dropped"


def test_a_head_seen_before_tells_its_engine_type(client, db):
    head = create_head(db, serial="X-77")
    values = {"customer-name": "Ada", "heads-0-serial": "X-77", "heads-0-head_id": str(head.id)}
    _post(client, values)
    (job,) = jobs.recent(db)
    assert job.heads[0].head.engine_type == head.engine_type


def test_one_head_cannot_come_in_twice_on_one_job(client, db):
    head = create_head(db, serial="X-77")
    same = {
        f"heads-{place}-{name}": value
        for place in (0, 1)
        for name, value in (("serial", "X-77"), ("head_id", str(head.id)))
    }
    page = _post(client, {"customer-name": "Ada", **same}, status=422)
    assert "on the job already" in page.fault("heads-1-serial")
    assert jobs.recent(db) == []


@pytest.mark.parametrize("key", ["0", "-1", "9" * 30, "new", "x", "²", "\x00"])
def test_keys_that_are_of_nothing_are_taken_as_nothing_chosen(client, key):
    values = {"customer_id": key, "engine_type_id": key, "heads-0-head_id": key, "routing_id": key}
    page = _post(client, values, status=422)
    assert page.fault("customer-name") == "Required: enter a value"
    assert client.get(f"/jobs/new?customer={key}&engine={key}&head={key}").status_code == 200


def test_a_flood_of_heads_is_cut_off(client, db):
    values = {**NEW_JOB, **{f"heads-{place}-serial": f"s{place}" for place in range(40)}}
    _post(client, values)
    (job,) = jobs.recent(db)
    assert len(job.heads) == booking.MOST_HEADS


def test_the_list_shows_open_or_closed_jobs_newest_first(client, db, by):
    first, second = create_job(db), create_job(db)
    jobs.cancel(db, by, first, "sold the car")
    assert [row[0] for row in client.page("/jobs").rows] == [second.number, first.number]
    assert [row[0] for row in client.page("/jobs?show=open").rows] == [second.number]
    assert [row[0] for row in client.page("/jobs?show=closed").rows] == [first.number]
    assert "No jobs yet" not in client.page("/jobs?show=nonsense&skip=-4").text
    client.page(f"/jobs?skip={'9' * 40}")


def test_a_job_is_quoted_approved_made_ready_and_collected(client, db):
    job = create_job(db)
    address = f"/jobs/{job.number}"
    step = create_operation(db, job.heads[0])
    client.submit(f"{address}/quote", {"look": None})
    assert "Quoted" in client.page(address).text
    page = client.submit(f"{address}/approve", {"approved_how": "telephone"})
    assert "Approved" in page.text
    db.expire_all()
    assert job.approved_by == job.customer.name
    operations.skip(db, factories.BY, step, "not needed")
    page = client.press(address, "Mark ready", status=422)
    text = f"Nothing was done on {job.heads[0].tag}: enter why the head leaves as it came"
    assert page.fault("untouched_because") == text
    client.submit(page, {"untouched_because": "Sold as it is"})
    client.submit(f"{address}/collection", {"handed_to": "Orla Finch"})
    assert "Closed" in client.page(address).text
    db.expire_all()
    assert job.state is JobState.COLLECTED
    assert job.heads[0].untouched_because == "Sold as it is"
    assert "Sold as it is" in client.page(f"/heads/{job.heads[0].tag}").text


def test_open_steps_hold_a_job_back_and_the_page_says_which(client, db, by):
    visit = create_visit(db)
    kind = operations.kind_by_code(db, "hot-wash").id
    step = operations.add(db, by, visit, kind, {})
    factories.approve(db, by, visit.job, "Ada", "e-mail")
    operations.skip(db, by, step, "not wanted")
    page = client.page(f"/jobs/{visit.job.number}")
    operations.add(db, by, visit, kind, {})
    page = client.press(page, "Mark ready", status=422)
    assert visit.tag in page.alerts


def test_a_state_that_does_not_follow_is_refused(client, db):
    job = create_job(db)
    page = client.page(f"/jobs/{job.number}/cancel")
    token = page.value("csrf_token")
    for state in ("collected", "cancelled", "\x00"):
        answer = client.post(f"/jobs/{job.number}/move", data={"state": state, "csrf_token": token})
        assert answer.status_code == 422
    db.expire_all()
    assert job.state is JobState.BOOKED_IN


def test_cancelling_asks_for_a_reason_and_shows_it(client, db):
    job = create_job(db)
    address = f"/jobs/{job.number}/cancel"
    assert client.submit(address, status=422).fault("cancel_reason") == "Required: enter a value"
    assert "sold the car" in client.submit(address, {"cancel_reason": "sold the car"}).text


def test_two_editors_do_not_overwrite_each_other(client, db, by):
    job = create_job(db)
    page = client.page(f"/jobs/{job.number}/change")
    jobs.change(db, by, job, {"fuel": "E85"})
    page = client.submit(page, {"fuel": "gasoline"}, status=422)
    assert "someone else changed this" in page.alerts.lower()
    assert "E85" in page.text
    client.submit(page, {"choice-fuel": "mine"})
    db.expire_all()
    assert job.fuel == "gasoline"


@pytest.mark.parametrize("version", ["0", "9" * 30, "-1", "x", ""])
def test_no_version_breaks_an_edit(client, db, version):
    job = create_job(db)
    page = client.page(f"/jobs/{job.number}/change")
    data = {"csrf_token": page.value("csrf_token"), "version": version, "fuel": "E85"}
    assert client.post(f"/jobs/{job.number}/change", data=data).status_code in (302, 422)


def test_the_history_says_who_did_what_from_what_to_what(client, db, by):
    job = create_job(db)
    client.submit(f"/jobs/{job.number}/change", {"fuel": "E85"})
    page = client.page(f"/jobs/{job.number}")
    assert "Nila Owner" in page.text
    assert "fuel: from nothing to E85" in page.text
    assert len(audit_log.of_job(db, job)) == page.text.count(", shopflow ") + 1


def test_a_head_s_page_shows_the_next_step_and_how_it_came_in(client, db, by):
    visit = create_visit(db)
    assert "No steps planned yet" in client.page(f"/heads/{visit.tag}").text
    operations.add(db, by, visit, operations.kind_by_code(db, "seat-cut").id, {})
    page = client.page(f"/heads/{visit.tag}")
    assert "No metal is cut before" in page.text
    page = client.submit(f"/heads/{visit.tag}/condition", {"condition": "bent valve, cylinder 3"})
    assert "bent valve, cylinder 3" in page.text


@pytest.mark.parametrize(
    "address",
    [
        "/jobs/2026-9999",
        "/jobs/%00",
        "/jobs/%F0%9F%94%A7",
        "/heads/none",
        "/heads/%00",
        "/jobs/x/change",
    ],
)
def test_what_is_not_there_is_said_to_be_missing(client, address):
    assert client.get(address).status_code == 404


def test_the_counter_books_in_and_the_machinist_and_reader_do_not(signed_in, db):
    visit = create_visit(db, by=BY)
    signed_in(Role.COUNTER).page("/jobs/new")
    for role in (Role.MACHINIST, Role.READER):
        client = signed_in(role)
        client.page("/jobs/new", status=403)
        client.page(f"/jobs/{visit.job.number}/approve", status=403)
        page = client.page(f"/jobs/{visit.job.number}")
        assert "Change" not in page.links
        client.page(f"/heads/{visit.tag}")


def _post(client, data, status=200):
    token = client.page("/jobs/new").value("csrf_token")
    return client._page(client.post("/jobs/new", data={"csrf_token": token, **data}), status)
