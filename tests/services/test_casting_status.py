"""Status of castings: scrapped and back, spares offered and used, and what booking makes of it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.models import HeadStatus, Visit
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.registry import casting_status, heads
from shopflow.services.search import past_jobs
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head in the shop."""
    return factories.create_visit(db)


def book_again(db: Session, visit: Visit) -> Visit:
    """The same casting booked in a month later."""
    by = Actor(None, factories.NOW + timedelta(days=30))
    form = booking.BookIn(
        heads=[{"head_id": str(visit.head_id)}],
        customer_id=visit.job.customer_id,
        engine_type_id=visit.head.engine_type_id,
    )
    return booking.book_in(db, by, form).heads[0]


def test_a_scrapped_casting_is_not_booked_in_until_that_is_undone_with_a_reason(
    db: Session, machinist: Actor, visit: Visit
):
    head = visit.head
    with faults_at("reason"):
        casting_status.set_status(db, machinist, head, "scrapped", " ")
    casting_status.set_status(db, machinist, head, "scrapped", "cracked through")
    assert (head.status, head.status_at, head.status_by) == (
        HeadStatus.SCRAPPED, machinist.at, machinist.person,
    )  # fmt: skip
    assert last_entry(db, head).changes["status"] == ["in use", "scrapped"]
    with faults_at("heads-0-serial"):
        book_again(db, visit)
    with faults_at("reason"):
        casting_status.set_status(db, machinist, head, "in use", "")
    casting_status.set_status(db, machinist, head, "in use", "only a scratch")
    assert last_entry(db, head).note == "only a scratch"
    assert book_again(db, visit).head is head


def test_a_casting_on_an_open_job_is_neither_sold_nor_made_a_spare(
    db: Session, machinist: Actor, visit: Visit
):
    for status in ("spare", "sold"):
        with refused("close the job before"):
            casting_status.set_status(db, machinist, visit.head, status, "changed engines")
    with refused("in use already"):
        casting_status.set_status(db, machinist, visit.head, "in use", "")
    with faults_at("status"):
        casting_status.set_status(db, machinist, visit.head, "lost", "")
    jobs.cancel(db, machinist, visit.job, "changed engines")
    casting_status.set_status(db, machinist, visit.head, "spare", "left with us")
    assert heads.owner(visit.head) is None
    assert casting_status.spares(db) == [visit.head]
    again = book_again(db, visit)
    assert (again.head.status, heads.owner(again.head)) == (HeadStatus.IN_USE, again.job.customer)


def test_a_spare_is_offered_for_a_job_of_its_engine_type_and_used(
    db: Session, machinist: Actor, visit: Visit
):
    values = {"serial": "S 1", "material": "cast iron"}
    engine_type = visit.head.engine_type
    with faults_at("casting_number"):
        casting_status.add_spare(db, machinist, engine_type, {}, "")
    spare = casting_status.add_spare(db, machinist, engine_type, values, "bought used")
    assert (heads.owner(spare), spare.status_because) == (None, "bought used")
    other = factories.create_visit(db, engine_type=factories.create_engine_type(db, family="other"))
    with refused("no head of this engine type"):
        casting_status.offer(db, machinist, spare, other.job)
    with refused("not offered"):
        casting_status.withdraw_offer(db, machinist, spare)
    with refused("not a spare"):
        casting_status.offer(db, machinist, visit.head, visit.job)
    casting_status.offer(db, machinist, spare, visit.job)
    assert spare.offered_job is visit.job
    casting_status.withdraw_offer(db, machinist, spare)
    assert spare.offered_job is None
    casting_status.offer(db, machinist, spare, visit.job)
    added = booking.add_head(db, machinist, visit.job, engine_type, {"head_id": spare.id})
    assert (added.position, spare.status, spare.offered_job) == (2, HeadStatus.IN_USE, None)
    assert heads.owner(spare) is visit.job.customer


def test_scrapped_castings_and_leaks_are_looked_up_by_these_words(
    db: Session, machinist: Actor, visit: Visit
):
    step = factories.create_operation(db, visit, "crack-check")
    factories.create_visit(db)
    factories.record_crack(db, machinist, step)
    casting_status.set_status(db, machinist, visit.head, "scrapped", "cracked through")
    db.flush()
    for wanted in ("scrapped", "cracked", "scrapped castings cracked"):
        assert [row.tag for row in past_jobs.past_jobs(db, wanted)] == [visit.tag], wanted
    assert past_jobs.past_jobs(db, "leaks") == []
