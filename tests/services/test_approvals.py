"""Nothing is cut before approval, but on the owner's word; extra work is approved apart."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import JobState
from shopflow.papers.quote import Quote as QuotePaper
from shopflow.papers.snapshot import from_plain
from shopflow.services import approvals, jobs, operations, order, quotes
from shopflow.services.actor import Actor
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused


def test_the_owner_releases_steps_with_a_reason_and_only_those(
    db: Session, machinist: Actor, by: Actor
):
    stay = factories.create_visit(db)
    seat, port = (factories.create_operation(db, stay, kind) for kind in ("seat-cut", "port-work"))
    factories.create_operation(db, stay, "flow-test")
    assert approvals.waiting(db, stay.job) == [seat, port]
    with faults_at("reason"):
        approvals.release(db, machinist, stay.job, [seat], "")
    with refused("no step waits"):
        approvals.release(db, machinist, stay.job, [], "he said so")
    with refused("needs a person"):
        approvals.release(db, by, stay.job, [seat], "he said so")
    (made,) = approvals.release(db, machinist, stay.job, [seat], "away until Monday")
    assert (made.person, made.at, made.reason) == (
        machinist.person,
        machinist.at,
        "away until Monday",
    )
    assert last_entry(db, made).note == f"Seat cut, {stay.tag}: away until Monday"
    assert approvals.waiting(db, stay.job) == [port]
    operations.start(db, machinist, seat)
    assert stay.job.state is JobState.IN_WORK
    with refused("no metal is cut"):
        operations.start(db, machinist, port)
    jobs.cancel(db, machinist, stay.job, "sold")
    with refused("cancelled"):
        approvals.release(db, machinist, stay.job, [port], "too late")


def test_work_found_after_an_approval_without_a_quote_is_asked_for_apart(
    db: Session, machinist: Actor
):
    stay = factories.create_visit(db)
    seat = factories.create_operation(db, stay, "seat-cut", price="100.00")
    factories.approve(db, machinist, stay.job, "Cal Pruitt", "telephone")
    kind = operations.kind_by_code(db, "weld-repair")
    found = operations.add(db, machinist, stay, kind.id, {"price": "50.00"}, found=True)
    assert approvals.waiting(db, stay.job) == [found]
    with refused("extra work that the customer has not approved"):
        operations.start(db, machinist, found)
    quote = quotes.give(db, machinist, stay.job, {})
    content = from_plain(QuotePaper, quote.snapshot)
    assert [line.what for line in content.extras] == ["Weld repair"]
    assert [line.what for line in content.lines] == ["Seat cut"]
    assert content.agreed.startswith("the work as booked in, by Cal Pruitt, telephone")
    quotes.approve_job(db, machinist, stay.job, "Cal Pruitt", "e-mail", seen=quote.title)
    operations.start(db, machinist, found)
    operations.start(db, machinist, seat)


def test_before_the_approval_nothing_is_extra(db: Session, machinist: Actor):
    stay = factories.create_visit(db)
    kind = operations.kind_by_code(db, "weld-repair")
    assert not operations.add(db, machinist, stay, kind.id, {}, found=True).found


def test_what_is_added_after_an_agreed_quote_is_not_cut_before_it_is_asked_for(
    db: Session, machinist: Actor
):
    stay = factories.create_visit(db)
    seat = factories.create_operation(db, stay, "seat-cut")
    quote = quotes.give(db, machinist, stay.job, {})
    quotes.approve_job(db, machinist, stay.job, "Cal", "in person", seen=quote.title)
    extra = factories.create_operation(db, stay, "port-work")
    with refused("extra work"):
        operations.start(db, machinist, extra)
    # Doing once more what was agreed is agreed.
    again = order.repeat(db, machinist, seat, "run-out")
    operations.start(db, machinist, again)
    second = quotes.give(db, machinist, stay.job, {})
    content = from_plain(QuotePaper, second.snapshot)
    assert [line.what for line in content.extras] == ["Port work"]
    assert [line.what for line in content.lines] == ["Seat cut"]


def test_approving_a_job_approves_the_quote_that_waits(db: Session, machinist: Actor):
    stay = factories.create_visit(db)
    factories.create_operation(db, stay, "seat-cut")
    quote = quotes.give(db, machinist, stay.job, {})
    with refused("another quote was given meanwhile"):
        quotes.approve_job(db, machinist, stay.job, "Cal", "telephone")
    quotes.approve_job(db, machinist, stay.job, "Cal", "telephone", seen=quote.title)
    assert (quote.approved_by, quote.approved_how) == ("Cal", "telephone")
    assert (stay.job.approved_by, stay.job.state) == ("Cal", JobState.APPROVED)
    with refused("approved already, by Cal"):
        quotes.approve_job(db, machinist, stay.job, "Cal", "telephone")
    jobs.cancel(db, machinist, stay.job, "sold")
    with refused("cancelled"):
        quotes.approve_job(db, machinist, stay.job, "Cal", "telephone")


@pytest.mark.parametrize("state", list(JobState))
def test_a_job_moves_only_to_what_follows_its_state(db: Session, machinist: Actor, state: JobState):
    job = factories.create_job(db)
    job.approved_at, job.approved_by, job.cancel_reason = machinist.at, "Cal", "none"
    for wanted in JobState:
        job.state = state
        if wanted is JobState.CANCELLED or wanted in jobs.FOLLOWS[state]:
            continue
        with refused("comes"):
            jobs.move(db, machinist, job, wanted)
        assert job.state is state
    for wanted in jobs.FOLLOWS[state]:
        job.state = state
        jobs.move(db, machinist, job, wanted)
        assert job.state is wanted
