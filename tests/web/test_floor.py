"""The floor in the browser."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from lxml import html

from shopflow import issuing
from shopflow.models import JobState
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.routing import holds, operations
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.settings import zone
from tests import factories
from tests.factories import (
    BY,
    create_customer,
    create_engine_type,
    create_job,
    create_operation,
    create_person,
)


@pytest.fixture
def day(shop):
    """Days from today as the shop counts them, in ISO form."""
    today = datetime.now(UTC).astimezone(zone(shop)).date()
    return lambda offset: (today + timedelta(days=offset)).isoformat()


def tags(page):
    return [row[1].split()[0] for row in page.rows if len(row) == 5]


def test_an_empty_floor_says_so(client):
    assert "No heads in the shop yet. Book in the first one." in client.page("/").text


def test_late_heads_come_first_and_say_so_in_words(client, db, day):
    later = create_job(db, promised_on=day(9))
    undated = create_job(db)
    late = create_job(db, promised_on=day(-3))
    soon = create_job(db, promised_on=day(1))
    page = client.page("/")
    assert tags(page) == [f"{job.number}-A" for job in (late, soon, later, undated)]
    promises = [row[0] for row in page.rows]
    assert promises[0].endswith("3 days late")
    assert promises[1].endswith("tomorrow")
    assert promises[2].endswith("in 9 days")
    assert promises[3] == "no date"


def test_closed_jobs_are_not_on_the_floor(client, db):
    jobs.cancel(db, BY, create_job(db), "changed their mind")
    assert "No heads in the shop" in client.page("/").text


def in_state(db, state):
    """A job in a state, with one operation planned."""
    job = create_job(db, create_customer(db, name="Orla Finch"))
    kind = built_in_kinds.operation_kinds(db)[0]
    step = operations.add(db, BY, job.heads[0], kind.id, {"price": "60"})
    if state in (JobState.APPROVED, JobState.IN_WORK, JobState.READY):
        factories.approve(db, BY, job, "Orla Finch", "telephone")
    if state is JobState.QUOTED:
        issuing.give_quote(db, BY, job, {})
    if state is JobState.IN_WORK:
        jobs.move(db, BY, job, state)
    if state is JobState.READY:
        operations.skip(db, BY, step, "not wanted")
        factories.make_ready(db, BY, job)
    return job, step


@pytest.mark.parametrize(
    ("state", "stands", "move", "act"),
    [
        (JobState.BOOKED_IN, "To be quoted", "Counter", "Write quote"),
        (JobState.QUOTED, "Waiting for approval", "Customer", "Record approval"),
        (JobState.APPROVED, "Next: Assemble", "Workshop", "Start step"),
        (JobState.IN_WORK, "Next: Assemble", "Workshop", "Start step"),
        (JobState.READY, "Ready", "Customer", "Hand over"),
    ],
)
def test_it_says_where_a_head_stands_and_whose_move_it_is(client, db, state, stands, move, act):
    in_state(db, state)
    (row,) = client.page("/").rows
    assert row[3] == stands
    assert row[4].startswith(f"{move} {act}: ")


def test_a_started_operation_names_who_is_at_it(client, db):
    _, step = in_state(db, JobState.IN_WORK)
    machinist = create_person(db, login="idris", name="Idris Vale")
    operations.start(db, Actor(machinist, BY.at), step)
    (row,) = client.page("/").rows
    assert row[3] == "In progress: Assemble"
    assert row[4].startswith("Workshop Idris Vale Open sheet: Assemble")


def test_heads_without_work_left_wait_for_the_counter(client, db):
    job, step = in_state(db, JobState.IN_WORK)
    operations.skip(db, BY, step, "not wanted")
    (row,) = client.page("/").rows
    assert row[3] == "All work done"
    assert row[4].startswith("Counter Mark ready: ")
    assert job.state is JobState.IN_WORK


def test_it_is_narrowed_to_one_partys_moves(client, db):
    booked, _ = in_state(db, JobState.BOOKED_IN)
    quoted, _ = in_state(db, JobState.QUOTED)
    page = client.page("/?move=customer")
    assert tags(page) == [f"{quoted.number}-A"]
    assert {"All 2", "Counter’s move 1", "Customer’s move 1", "Workshop’s move 0"} <= set(
        page.links
    )
    assert "No heads match these filters" in client.page("/?move=workshop").text
    assert tags(client.page("/?move=counter")) == [f"{booked.number}-A"]


def test_a_move_of_no_one_shows_nothing(client, db):
    in_state(db, JobState.BOOKED_IN)
    answer = client.get("/", query_string={"move": "<b>nobody"})
    assert answer.status_code == 200
    assert "<b>nobody" not in answer.text


def test_it_is_listed_by_where_heads_stand_in_the_order_of_a_jobs_life(client, db):
    for state in (JobState.READY, JobState.QUOTED, JobState.BOOKED_IN, JobState.QUOTED):
        in_state(db, state)
    headings = [row[0] for row in client.page("/?by=where").rows if len(row) == 1]
    assert headings == ["To be quoted 1", "Waiting for approval 2", "Ready 1"]


def test_late_heads_come_first_in_each_group_too(client, db, day):
    later = create_job(db, promised_on=day(9))
    late = create_job(db, promised_on=day(-3))
    assert tags(client.page("/?by=where")) == [f"{late.number}-A", f"{later.number}-A"]


def test_heads_at_and_before_the_same_operation_stand_together(client, db):
    in_state(db, JobState.APPROVED)
    _, step = in_state(db, JobState.IN_WORK)
    operations.start(db, Actor(create_person(db, login="idris"), BY.at), step)
    headings = [row[0] for row in client.page("/?by=where").rows if len(row) == 1]
    assert headings == ["Assemble 2"]


def waits_for(db, visit, what, wait_for="parts", **values):
    values = {"since": "2026-03-02", **values}
    return holds.begin(db, BY, visit, {"wait_for": wait_for, "what": what, **values})


def test_a_head_that_waits_says_for_what_and_since_when(client, db):
    job, _ = in_state(db, JobState.IN_WORK)
    page = client.page(f"/heads/{job.heads[0].tag}/hold")
    values = {"wait_for": "parts", "what": "8 exhaust valves", "since": "2026-03-02"}
    page = client.submit(page, {**values, "expected_on": "2026-03-20"})
    assert page.notices == [f"{job.number}-A is waiting for parts: 8 exhaust valves."]
    (row,) = client.page("/").rows
    assert row[3] == (
        "Next: Assemble Waiting for parts 8 exhaust valves, since Mar 2, 2026, "
        "expected Mar 20, 2026"
    )
    assert row[4].startswith("Supplier End hold: 8 exhaust valves")
    page = client.submit(page.links["Change what it waits for: 8 exhaust valves"],
                         {"expected_on": ""})  # fmt: skip
    assert "since Mar 2, 2026, no date given" in page.text
    page = client.press(page, "End hold")
    assert page.notices == [f"{job.number}-A no longer waits for 8 exhaust valves."]
    (row,) = client.page("/").rows
    assert row[3] == "Next: Assemble"
    assert row[4].startswith("Workshop Start step: ")


def test_what_is_wrong_with_a_wait_is_said_at_its_field(client, db):
    job, _ = in_state(db, JobState.IN_WORK)
    address = f"/heads/{job.heads[0].tag}/hold"
    page = client.submit(address, {"what": "", "expected_on": "2026-02-30"}, status=422)
    assert page.fault("what") == "Required: enter a value"
    assert "not a date" in page.fault("expected_on")
    values = {"what": "guides", "since": "2026-03-02", "expected_on": "2026-03-01"}
    page = client.submit(address, values, status=422)
    assert "The expected date is before the start" in page.fault("expected_on")
    assert page.value("what") == "guides"


def test_who_waits_for_the_customer_waits_for_their_move(client, db):
    job, _ = in_state(db, JobState.IN_WORK)
    waits_for(db, job.heads[0], "which cam", "the customer")
    assert tags(client.page("/?move=customer")) == [f"{job.number}-A"]
    headings = [row[0] for row in client.page("/?by=where").rows if len(row) == 1]
    assert headings == ["Waiting for the customer 1"]


def test_a_promise_at_risk_is_said_with_its_hours(client, db, day):
    easy = create_job(db, promised_on=day(20))
    hard = create_job(db, promised_on=day(30))
    create_operation(db, hard.heads[0], planned_minutes="60000")
    late = create_job(db, promised_on=day(-1))
    page = client.page("/")
    assert tags(page) == [f"{job.number}-A" for job in (late, hard, easy)]
    assert page.rows[1][0].endswith("in 30 days at risk")
    assert "1000 h planned including this head" in page.rows[1][3]
    assert {"Late 1", "At risk 1", "Waiting 0"} <= set(page.links)
    assert tags(client.page(page.links["At risk 1"])) == [f"{hard.number}-A"]


def test_filters_ride_in_the_address_and_go_together(client, db):
    kind = create_engine_type(db)
    orla, moss = (create_customer(db, name=name) for name in ("Orla Finch", "Moss & Sons"))
    wanted = create_job(db, orla, kind)
    create_job(db, orla)
    create_job(db, moss, kind)
    address = f"/?engine={kind.id}&customer={orla.id}&state=booked+in"
    page = client.page(address)
    assert tags(page) == [f"{wanted.number}-A"]
    assert "1 open head of 3" in page.text
    assert (page.value("engine"), page.value("customer")) == (str(kind.id), str(orla.id))
    assert f"customer={orla.id}" in page.links["Counter’s move 3"]
    assert f"customer={orla.id}" in page.links["Group by step"]
    gone = client.page("/?customer=999999")
    assert "match these filters" in gone.text
    assert gone.value("customer") == "999999"


def test_heads_are_narrowed_to_who_is_at_them(client, db):
    _, step = in_state(db, JobState.IN_WORK)
    in_state(db, JobState.IN_WORK)
    operations.start(db, Actor(create_person(db, login="idris", name="Idris Vale"), BY.at), step)
    assert tags(client.page("/?person=Idris+Vale")) == [step.job_head.tag]


def test_the_wall_turns_its_own_pages_without_script(client, db):
    for _ in range(13):
        create_job(db)
    seen, address = [], "/floor/wall"
    for _ in range(3):
        answer = client.get(address)
        seen += wall_tags(answer)
        pause, _, address = answer.headers["Refresh"].partition("; url=")
        assert int(pause) == 20
        assert "<button" not in answer.text
        assert "<form" not in answer.text
    assert address == "/floor/wall?page=1"
    assert len(set(seen)) == len(seen) == 13
    assert len(wall_tags(client.get("/floor/wall?page=999"))) == 1
    assert len(wall_tags(client.get("/floor/wall?page=-1"))) == 6


def wall_tags(answer):
    return [b.text for b in html.fromstring(answer.text).xpath("//p[@class='wall-head']/b")]


def test_an_empty_wall_says_so(client):
    assert "No work is waiting" in client.page("/floor/wall").text


def test_a_week_with_too_much_promised_is_said_in_words(client, db, day):
    job = create_job(db, promised_on=day(7))
    create_operation(db, job.heads[0], "seat-cut", planned_minutes="60000")
    page = client.page("/floor/capacity")
    assert "More work is promised than there are hours" in page.text
    assert "does not fit" in page.text
    row = next(row for row in page.rows if row[0] == "Cut seats")
    assert row.count("1000") == 1
    assert page.tree.find_class("chart-box")
    jobs.cancel(db, BY, job, "sold")
    assert "Every week has enough hours" in client.page("/floor/capacity").text


def test_opening_hours_are_changed_and_faults_shown_at_their_fields(client, db):
    page = client.submit("/shop/hours", {"monday": "9.5", "closed_days": "2026-12-25 Christmas"})
    assert page.value("monday") == "9.5"
    wrong = {"friday": "25", "opens_at": "noon", "closed_days": "Easter", "people_at_bench": "0"}
    page = client.submit("/shop/hours", wrong, status=422)
    assert page.fault("friday") == "A day has 24 hours: enter at most 24"
    assert page.fault("closed_days").startswith("Line 1, 'Easter'")
    assert all(page.fault(name) for name in wrong)
    assert page.value("closed_days") == "Easter"


def test_the_job_tells_who_wrote_a_wait_down_and_when_it_was_over(client, db):
    job, _ = in_state(db, JobState.IN_WORK)
    tag = job.heads[0].tag
    client.submit(f"/heads/{tag}/hold", {"what": "guides"})
    open_page, opened_before = client.page(f"/heads/{tag}"), client.page(f"/heads/{tag}")
    client.press(open_page, "End hold")
    again = client.press(opened_before, "End hold", status=422)
    assert "ended already" in again.alerts
    log = client.page(f"/jobs/{job.number}").text
    assert f"Hold: begun ({tag}: waiting for parts: guides)" in log
    assert f"Hold: over ({tag}: waiting for parts: guides)" in log
