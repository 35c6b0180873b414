"""The floor in the browser."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopflow.models import JobState
from shopflow.services import catalogue, jobs, operations
from shopflow.services.actor import Actor
from tests.factories import BY, create_customer, create_job, create_person


@pytest.fixture
def day(shop):
    """Days from today as the shop counts them, in ISO form."""
    today = datetime.now(UTC).astimezone(jobs.zone(shop)).date()
    return lambda offset: (today + timedelta(days=offset)).isoformat()


def tags(page):
    return [row[1].split()[0] for row in page.rows if len(row) == 5]


def test_an_empty_floor_says_so(client):
    assert client.page("/").text.endswith("No head is in the shop. Book the first one in.")


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
    assert "No head is in the shop" in client.page("/").text


def in_state(db, state):
    """A job in a state, with one operation planned."""
    job = create_job(db, create_customer(db, name="Orla Finch"))
    kind = catalogue.operation_kinds(db)[0]
    step = operations.add(db, BY, job.heads[0], kind.id, {})
    if state in (JobState.APPROVED, JobState.IN_WORK, JobState.READY):
        jobs.approve(db, BY, job, "Orla Finch", "telephone")
    if state in (JobState.QUOTED, JobState.IN_WORK):
        jobs.move(db, BY, job, state)
    if state is JobState.READY:
        operations.skip(db, BY, step, "not wanted")
        jobs.move(db, BY, job, state)
    return job, step


@pytest.mark.parametrize(
    ("state", "stands", "move"),
    [
        (JobState.BOOKED_IN, "To be quoted", "Counter"),
        (JobState.QUOTED, "Waiting for approval", "Customer"),
        (JobState.APPROVED, "Next: Assembly", "Workshop"),
        (JobState.IN_WORK, "Next: Assembly", "Workshop"),
        (JobState.READY, "Ready", "Customer"),
    ],
)
def test_it_says_where_a_head_stands_and_whose_move_it_is(client, db, state, stands, move):
    in_state(db, state)
    (row,) = client.page("/").rows
    assert (row[3], row[4]) == (stands, move)


def test_a_started_operation_names_who_is_at_it(client, db):
    _, step = in_state(db, JobState.IN_WORK)
    machinist = create_person(db, login="idris", name="Idris Vale")
    operations.start(db, Actor(machinist, BY.at), step)
    (row,) = client.page("/").rows
    assert (row[3], row[4]) == ("At Assembly", "Workshop Idris Vale")


def test_heads_without_work_left_wait_for_the_counter(client, db):
    job, step = in_state(db, JobState.IN_WORK)
    operations.skip(db, BY, step, "not wanted")
    (row,) = client.page("/").rows
    assert (row[3], row[4]) == ("All work done", "Counter")
    assert job.state is JobState.IN_WORK


def test_it_is_narrowed_to_one_partys_moves(client, db):
    booked, _ = in_state(db, JobState.BOOKED_IN)
    quoted, _ = in_state(db, JobState.QUOTED)
    page = client.page("/?move=customer")
    assert tags(page) == [f"{quoted.number}-A"]
    assert {"All 2", "Counter’s move 1", "Customer’s move 1", "Workshop’s move 0"} <= set(
        page.links
    )
    assert "None of the open heads goes with what is chosen" in client.page("/?move=workshop").text
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
    assert headings == ["Assembly 2"]
